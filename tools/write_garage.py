"""Tell the story of the invented garage and write it into the package: a minute, seldom needed.

Run as ``python -m tools.write_garage`` from the root of the checkout, with ``.[app]`` installed.
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import replace
from pathlib import Path

from tools.garage_story import Calendar, tell
from ullage.records.example import FILE, garage_to_table
from ullage.wiring import open_app

TARGET = Path(__file__).resolve().parent.parent / "src" / "ullage" / "records" / "data" / FILE


def main() -> None:
    """Write the file anew."""
    calendar = Calendar()
    with tempfile.TemporaryDirectory() as folder, open_app(Path(folder)) as app:
        desk = replace(app.desk, now=calendar)
        tell(desk, calendar)
        text = json.dumps(garage_to_table(desk), ensure_ascii=False, indent=1, allow_nan=False)
    TARGET.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
