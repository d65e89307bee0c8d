"""What is new, read from the project's CHANGELOG.md, which the installed program carries too."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

_BESIDE_THE_PROGRAM = Path(__file__).resolve().parents[2] / "CHANGELOG.md"
_IN_THE_PROJECT = Path(__file__).resolve().parents[3] / "CHANGELOG.md"


@dataclass(frozen=True)
class Version:
    """A version and what came with it, a sentence or two each."""

    number: str
    changes: tuple[str, ...]


def versions() -> list[Version]:
    """The versions, the newest first."""
    file = _BESIDE_THE_PROGRAM if _BESIDE_THE_PROGRAM.exists() else _IN_THE_PROJECT
    return read_versions(file.read_text(encoding="utf-8"))


def read_versions(text: str) -> list[Version]:
    """Versions are the headings of the second level, their changes the list below each.

    A change may go on in lines that are indented; what it stresses is plain here.
    """
    found: list[Version] = []
    for part in text.split("\n## ")[1:]:
        head, _, rest = part.partition("\n")
        listed = re.sub(r"\n  +", " ", rest).replace("*", "")
        changes = tuple(line[2:].strip() for line in listed.splitlines() if line.startswith("- "))
        found.append(Version(head.strip(), changes))
    return found
