"""Who may come in, and what the page keeps beside the readings, for its owner alone: that, and what no row says yet."""

import hashlib
import hmac
import json
import os
import secrets
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Literal

from heatmap.errors import LogError
from heatmap.readings.durable import plain_reason, put_file
from heatmap.taking.session import Kind

#: Random bytes of a token: 192 bits.
_TOKEN_BYTES = 24
Role = Literal["cook", "watch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFile:
    """Two tokens, and how the round stands that may have no reading yet.

    Attributes
    ----------
    cook, watch : str
        Who has the first may enter readings, who has the second may look.
    round, kind : int, {"full", "recheck"}
        The round begun last on the page; 0 for none.
    key : str
        What that beginning was named by.
    marks, lid, surface
        What was said of them since.
    """

    cook: str = field(default_factory=lambda: secrets.token_urlsafe(_TOKEN_BYTES))
    watch: str = field(default_factory=lambda: secrets.token_urlsafe(_TOKEN_BYTES))
    round: int = 0
    kind: Kind = "full"
    key: str = ""
    marks: dict[str, float] = field(default_factory=dict)
    lid: Literal["", "open", "closed"] = ""
    surface: Literal["", "dry", "oiled"] = ""

    @property
    def cookie(self) -> str:
        """Name of the cookie of a page: two of one machine share theirs, whatever the port."""
        return f"gratemap-{hashlib.sha256(self.cook.encode()).hexdigest()[:8]}"

    def role(self, token: str) -> Role | None:
        """Return what a token opens; None for a wrong one. Takes as long for every token."""
        tokens: dict[Role, str] = {"cook": self.cook, "watch": self.watch}
        given = token.encode("utf-8", "replace")
        found = [role for role, right in tokens.items() if hmac.compare_digest(given, right.encode())]
        return found[0] if found else None


def page_file_beside(readings: Path) -> Path:
    """Return the page's file that belongs to a readings file."""
    return readings.parent / f".{readings.name}.page"


def open_page_file(readings: Path) -> PageFile:
    """Read that of a readings file; where there is none that can be used, make one with new tokens.

    Raises
    ------
    LogError
        When it cannot be written.
    """
    path = page_file_beside(readings)
    try:
        found = PageFile(**json.loads(path.read_text(encoding="utf-8")))
        sound = all(isinstance(token, str) and len(token) >= 22 for token in (found.cook, found.watch))
        sound &= isinstance(found.round, int) and found.kind in ("full", "recheck") and isinstance(found.marks, dict)
        sound &= found.lid in ("", "open", "closed") and found.surface in ("", "dry", "oiled")
        if not sound or found.cook == found.watch:
            raise ValueError
        os.chmod(path, 0o600)
    except (OSError, ValueError, TypeError):
        found = PageFile()
        save_page_file(readings, found)
    return found


def save_page_file(readings: Path, kept: PageFile) -> None:
    """Write it, whole or not at all: on the disk when this returns.

    Raises
    ------
    LogError
        When it cannot be written.
    """
    path = page_file_beside(readings)
    try:
        put_file(str(path), (json.dumps(asdict(kept)) + "\n").encode(), private=True)
    except OSError as error:
        raise LogError(f"{path} cannot be written: {plain_reason(error)}") from None
