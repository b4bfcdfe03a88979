"""Draws the life of a piece into DEVELOPERS.md from the table that rules it.

``--check`` writes nothing and tells whether the drawing there is the table's.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

from coatledger.subjects.piece_life import BACK, NEXT

PAGE = Path(__file__).resolve().parent.parent / "DEVELOPERS.md"
BEGIN, END = "<!-- life of a piece: written by scripts/life.py -->", "<!-- end of it -->"
SHOWN_MAX = 3


def drawing() -> str:
    """Write the table as a state diagram: an arrow for each change of stage and what brings it."""
    lines = [BEGIN, "```mermaid", "stateDiagram-v2", *arrows(), "```", END]
    return "\n".join(lines)


def arrows() -> Iterator[str]:
    """List the arrows. What leaves the stage as it is stands in the table only."""
    for stage, row in NEXT.items():
        ways: dict[str, list[str]] = {}
        for act, following in row.items():
            if following != stage:
                ways.setdefault(following, []).append(act)
        for following, acts in ways.items():
            more = f" and {len(acts) - SHOWN_MAX} more" if len(acts) > SHOWN_MAX else ""
            name = "as_its_coats_say" if following == BACK else following
            begin = "[*]" if stage == "unborn" else stage
            yield f"    {begin} --> {name} : {', '.join(acts[:SHOWN_MAX])}{more}"


def main(arguments: list[str]) -> int:
    """Write the drawing, or check it."""
    page = PAGE.read_text(encoding="utf-8")
    head, _, rest = page.partition(BEGIN)
    _, _, tail = rest.partition(END)
    drawn = head + drawing() + tail
    if "--check" in arguments:
        if drawn != page:
            print("DEVELOPERS.md draws another life of a piece than the table: scripts/life.py")
        return int(drawn != page)
    PAGE.write_text(drawn, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
