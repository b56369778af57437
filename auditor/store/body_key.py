"""What tells a body from all others, make, model and serial number, as one text: in Python and in SQL."""

from __future__ import annotations

from auditor.records import Recorded


def body_key(recorded: Recorded) -> str:
    """The key of the body that took a frame; what was not recorded is left empty in it.

    Parameters
    ----------
    recorded
        Of a frame.

    Returns
    -------
    str
        Make, model and serial number, joined by bars.
    """
    return f"{recorded.body_make or ''}|{recorded.body_model or ''}|{recorded.body_serial or ''}"


def body_key_sql(table: str) -> str:
    """The same as an expression over the columns of a table: never NULL, as SQL would make it of one NULL.

    Parameters
    ----------
    table
        Name or alias, as the query has it.

    Returns
    -------
    str
        An SQL expression.
    """
    return " || '|' || ".join(
        f"coalesce({table}.{column}, '')" for column in ("body_make", "body_model", "body_serial")
    )
