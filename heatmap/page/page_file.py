"""Who may come in, and what the page keeps beside the readings, for its owner alone: that, and what no row says yet."""

import hashlib
import hmac
import json
import os
import secrets
import time
from collections import deque
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Literal

from heatmap.errors import LogError
from heatmap.page.tuning import WRONG_TOKENS, WRONG_WITHIN_S
from heatmap.readings.durable import plain_reason, put_file
from heatmap.taking.session import Kind

#: Random bytes of a token: 192 bits.
_TOKEN_BYTES = 24


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
        told = json.loads(path.read_text(encoding="utf-8"))
        found = PageFile(**told)
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


Role = Literal["cook", "watch"]
#: So many wrong tokens are remembered; the oldest are forgotten first.
_MOST_WRONG = 10_000


class Access:
    """The two tokens, and which addresses have tried wrong ones.

    Parameters
    ----------
    cook, watch : str
    """

    def __init__(self, cook: str, watch: str) -> None:
        """Begin with nobody refused."""
        self._tokens: tuple[tuple[Role, bytes], ...] = (("cook", cook.encode()), ("watch", watch.encode()))
        # Two pages of one machine share their cookies, whatever the port: each has a name of its own.
        self.cookie = f"gratemap-{hashlib.sha256(cook.encode()).hexdigest()[:8]}"
        self._wrong: deque[tuple[str, float]] = deque(maxlen=_MOST_WRONG)

    def role(self, token: str) -> Role | None:
        """Return what a token opens; None for a wrong one. Takes as long for every token."""
        given = token.encode("utf-8", "replace")
        found = [role for role, right in self._tokens if hmac.compare_digest(given, right)]
        return found[0] if found else None

    def refused(self, address: str) -> bool:
        """Take note of a wrong token from an address; tell whether there were too many of late."""
        at = time.monotonic()
        tries = sum(who == address and at - when < WRONG_WITHIN_S for who, when in self._wrong)
        if tries < WRONG_TOKENS:
            self._wrong.append((address, at))
        return tries >= WRONG_TOKENS
