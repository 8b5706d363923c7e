"""Make README's picture from today's page: ``python -m tests.picture``.

Plays the short batch of the virtual bench and takes the page at the bench when pieces are in the
calcium bath. Needs a Chromium and Pillow; writes ``fixtures/pictures/at_the_bench.png``.
"""

import io
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from tests.conftest import CHROMIUM, FLAGS
from tests.dashboard.processes import Demo

PICTURE = Path(__file__).resolve().parents[1] / "fixtures" / "pictures" / "at_the_bench.png"
PIECES_IN = 4
COLOURS = 128
"""As many colours as the page needs; it keeps the file below 100 kB."""
WAIT_MS = 900_000


def main() -> None:
    """Take the picture and say how large it is."""
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        demo = Demo(Path(scratch))
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.goto(demo.url)
            page.locator(f'button[data-piece="{PIECES_IN}"]').wait_for(
                state="attached", timeout=WAIT_MS
            )
            taken = page.screenshot()
        finally:
            browser.close()
            demo.stop()
    small = Image.open(io.BytesIO(taken)).convert("RGB").quantize(COLOURS)
    small.save(PICTURE, optimize=True)
    print(f"{PICTURE.name}: {PICTURE.stat().st_size} bytes")


if __name__ == "__main__":
    main()
