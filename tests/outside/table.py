"""Print every comparison with an outside authority: ``python -m tests.outside.table``.

``--markdown FILE`` writes the same table as a page (docs/outside.md). The exit code is 1 if any row
disagrees.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import sys
from collections import Counter
from pathlib import Path

from tests.outside.rows import OutsideRow

HERE = Path(__file__).parent
HEADER = ("authority", "subject", "quantity", "ours", "theirs", "difference", "tolerance", "source")


def collect() -> list[tuple[str, OutsideRow]]:
    """Return the rows of every authority, with the folder's name, in a fixed order."""
    found: list[tuple[str, OutsideRow]] = []
    for path in sorted(HERE.glob("*/test_*.py")):
        spec = importlib.util.spec_from_file_location(
            f"outside_{path.parent.name}_{path.stem}", path
        )
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        # Dataclasses with postponed annotations look their module up by name.
        sys.modules[spec.name] = module
        spec.loader.exec_module(module)
        if hasattr(module, "rows"):
            found += [(path.parent.name, row) for row in module.rows()]
    return found


def cells(authority: str, row: OutsideRow) -> tuple[str, ...]:
    """Return a row as the texts of its columns."""
    return (
        authority,
        row.subject,
        row.quantity,
        f"{row.ours:.7g}",
        f"{row.theirs:.7g}",
        f"{row.difference:+.2g}" + ("" if row.agrees else " DISAGREES"),
        f"{row.tolerance:.2g}",
        row.source,
    )


def as_text(found: list[tuple[str, OutsideRow]]) -> str:
    """Return the table with aligned columns."""
    lines = [HEADER, *(cells(authority, row) for authority, row in found)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(HEADER))]
    return "\n".join(
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def as_markdown(found: list[tuple[str, OutsideRow]]) -> str:
    """Return the table as a page, with the count of each kind and the reason of each tolerance."""
    header = (*HEADER, "provenance", "kind", "why this tolerance")
    lines = [
        "# Our figures beside others'",
        "",
        "Written by `python -m tests.outside.table --markdown docs/outside.md`; do not edit.",
        "Provenance: *found* was read in the source named, *library* was computed by the program",
        "named, *derived* is algebra of our own, *memory* was not looked up. Kind: *code* shows",
        "that a formula is coded right, *model* that it describes a real liquid.",
        "",
        summary(found),
        "",
        "| " + " | ".join(header) + " |",
        "|" + "---|" * len(header),
    ]
    for authority, row in found:
        texts = (*cells(authority, row), row.provenance, row.kind, row.reason)
        lines.append("| " + " | ".join(text.replace("|", "\\|") for text in texts) + " |")
    lines += ["", "## Not checked outside, and why", "", "| function | reason |", "|---|---|"]
    with (Path(__file__).parent / "unchecked.csv").open(encoding="utf-8", newline="") as file:
        lines += [f"| `{one['function']}` | {one['reason']} |" for one in csv.DictReader(file)]
    return "\n".join(lines) + "\n"


def summary(found: list[tuple[str, OutsideRow]]) -> str:
    """Return one sentence that counts the rows."""
    kinds = Counter(row.provenance for _, row in found)
    wrong = sum(not row.agrees for _, row in found)
    parts = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    return f"{len(found)} comparisons ({parts}); {wrong} disagree."


def main(arguments: list[str] | None = None) -> int:
    """Print or write the table; return 1 if any row disagrees."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--markdown", metavar="FILE", type=Path)
    options = parser.parse_args(arguments)
    found = collect()
    if options.markdown is not None:
        options.markdown.write_text(as_markdown(found), encoding="utf-8")
    else:
        sys.stdout.write(as_text(found) + "\n")
    sys.stdout.write(summary(found) + "\n")
    return 0 if all(row.agrees for _, row in found) else 1


if __name__ == "__main__":
    raise SystemExit(main())
