"""Read-only access to the photographer's files: any bytes in, a record or an AuditorError out."""
