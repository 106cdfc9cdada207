"""Write the golden texts and README's tour anew; look at the diff before committing it."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
CHECKOUT = HERE.parent.parent
sys.path.insert(0, str(CHECKOUT))

from tests.golden.pages import PAGES  # noqa: E402
from tests.golden.tour import with_tour  # noqa: E402

for name, make in PAGES.items():
    (HERE / name).write_text(make(), encoding="utf-8")
readme = CHECKOUT / "README.md"
readme.write_text(with_tour(readme.read_text("utf-8"), checkout=CHECKOUT), encoding="utf-8")
