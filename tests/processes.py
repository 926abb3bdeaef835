"""Processes of this machine as Linux tells of them (proc(5)): parents, groups, commands, memory."""

from dataclasses import dataclass
from pathlib import Path

PROC = Path("/proc")


@dataclass(frozen=True)
class Process:
    """One process that runs; `words` are its command."""

    pid: int
    parent: int
    group: int
    words: tuple[str, ...]

    def memory_mb(self, *, peak: bool = False) -> float:
        """Resident memory, now or at most."""
        name = "VmHWM:" if peak else "VmRSS:"
        lines = (PROC / str(self.pid) / "status").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024


def running() -> list[Process]:
    """All processes that run, zombies left out."""
    found = [_read(entry) for entry in PROC.iterdir() if entry.name.isdigit()]
    return [process for process in found if process is not None]


def children_of(pid: int) -> list[Process]:
    return [process for process in running() if process.parent == pid]


def _read(entry: Path) -> Process | None:
    try:
        state, parent, group = (entry / "stat").read_text().rpartition(") ")[2].split()[:3]
        words = (entry / "cmdline").read_bytes().decode(errors="replace").split("\0")
    except (FileNotFoundError, ProcessLookupError):
        return None
    return None if state == "Z" else Process(int(entry.name), int(parent), int(group), tuple(words))
