"""Lines for the journal of the service manager: each says how grave it is, as sd-daemon(3) describes."""

import logging
import os
import sys

_PRIORITIES = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))
_DEBUG = 7


def is_journal() -> bool:
    """Whether stderr goes to the journal: JOURNAL_STREAM holds its device and inode, systemd.exec(5)."""
    try:
        here = os.fstat(sys.stderr.fileno())
    except (OSError, ValueError):
        return False
    return os.environ.get("JOURNAL_STREAM") == f"{here.st_dev}:{here.st_ino}"


def graded(text: str, level: int) -> str:
    """Put the priority before every line: the journal takes each line as an entry of its own."""
    priority = next((number for least, number in _PRIORITIES if level >= least), _DEBUG)
    return "\n".join(f"<{priority}>{line}" for line in text.splitlines())


class JournalFormatter(logging.Formatter):
    """The journal keeps time and priority itself."""

    def format(self, record: logging.LogRecord) -> str:
        return graded(super().format(record), record.levelno)


def start_logging() -> None:
    """Send the log to stderr, from warnings on; to the journal with priorities."""
    handler = logging.StreamHandler()
    if is_journal():
        handler.setFormatter(JournalFormatter("%(name)s: %(message)s"))
    else:
        handler.setFormatter(logging.Formatter("%(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.WARNING, handlers=[handler])
