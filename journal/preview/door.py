"""Who may come in from the studio's network: a code that is good once, then a random cookie."""

from __future__ import annotations

import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Final

#: Letters and digits that are not mistaken for one another.
SIGNS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
#: 30 signs, eight of them: a guess is right once in 6.6 x 10^11.
CODE_SIGNS: Final = 8
#: After so many wrong codes the right one is good no more.
MOST_WRONG: Final = 5
#: So many phones are let in; the one that came first has to leave for another.
MOST_PHONES: Final = 20


class BenchDoor:
    """Lets phones in by a one-time code; used by many threads."""

    def __init__(self, new_code: Callable[[], str] | None = None) -> None:
        """``new_code`` gives a code; by default a random one."""
        self._new_code = new_code or _random_code
        self._lock = threading.Lock()
        self._code: str | None = None
        self._wrong = 0
        self._cookies: deque[str] = deque(maxlen=MOST_PHONES)

    def open(self) -> str:
        """Make a new code, the only one that is good from now on."""
        code = self._new_code()
        with self._lock:
            self._code, self._wrong = code, 0
        return code

    @property
    def is_open(self) -> bool:
        """Whether there is a code that is good."""
        with self._lock:
            return self._code is not None

    def enter(self, written: str) -> str | None:
        """The cookie for who knows the code, which is good no more; None for anybody else."""
        said = "".join(sign for sign in written.lower() if sign.isalnum())
        with self._lock:
            if self._code is None:
                return None
            if not secrets.compare_digest(said.encode(), self._code.encode()):
                self._wrong += 1
                if self._wrong >= MOST_WRONG:
                    self._code = None
                return None
            self._code = None
            cookie = secrets.token_urlsafe(32)
            self._cookies.append(cookie)
            return cookie

    def knows(self, cookie: str) -> bool:
        """Whether a cookie is one that was given."""
        with self._lock:
            known = tuple(self._cookies)
        return any(secrets.compare_digest(cookie.encode(), one.encode()) for one in known)


def _random_code() -> str:
    return "".join(secrets.choice(SIGNS) for _ in range(CODE_SIGNS))


class RateLimit:
    """At most so many events in so many seconds."""

    def __init__(
        self, most: int, seconds: float, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._seconds, self._now = seconds, now
        self._lock = threading.Lock()
        self._times: deque[float] = deque(maxlen=most)

    def allows(self) -> bool:
        """Note an event, if it may happen; tells whether it may."""
        with self._lock:
            now = self._now()
            full = len(self._times) == self._times.maxlen
            if full and now - self._times[0] < self._seconds:
                return False
            self._times.append(now)
            return True
