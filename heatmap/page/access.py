"""Who may come in: tokens exchanged for a cookie, compared in constant time, wrong ones slowed down."""

from __future__ import annotations

import hashlib
import hmac
import time
from collections import deque
from typing import Literal

from heatmap.page.tuning import WRONG_TOKENS, WRONG_WITHIN_S

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
        found: Role | None = None
        for role, right in self._tokens:
            if hmac.compare_digest(given, right):
                found = role
        return found

    def refused(self, address: str) -> bool:
        """Take note of a wrong token from an address; tell whether there were too many of late."""
        at = time.monotonic()
        tries = sum(who == address and at - when < WRONG_WITHIN_S for who, when in self._wrong)
        if tries < WRONG_TOKENS:
            self._wrong.append((address, at))
        return tries >= WRONG_TOKENS
