"""What the page may run and load: its own inline parts, each by its hash, and nothing else."""

from __future__ import annotations

import base64
import hashlib
import json


def content_security_policy(styles: list[str], scripts: list[str]) -> str:
    """A Content-Security-Policy (W3C, Content Security Policy Level 3) for exactly these inline parts.

    Nothing comes from elsewhere and no text is run as code: no `unsafe-inline`, no `unsafe-eval`.
    """
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {' '.join(map(_hash, scripts)) or chr(39) + 'none' + chr(39)}",
            f"style-src {' '.join(map(_hash, styles))}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def json_for_page(value: object) -> str:
    """JSON that can stand inside a script element, whatever texts it holds (HTML standard, 4.12.1.3)."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
