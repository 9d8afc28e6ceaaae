"""Pictures of the panel, to be looked at: python tests/realtime/panel_pictures.py docs/panel

One scene: port on electricity, starboard charging on its diesel, a lost input told; light and dark, 1280 and 800 wide.
"""

import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parent)]

from panel_page import Panel, Sheet, chromium  # noqa: E402 - after the path is set

SIZES = ((1280, 1180), (800, 1280))


def scene(sheet: Sheet) -> None:
    """From cold to something worth looking at."""
    page = sheet.page
    sheet.take_control()
    page.wait_for_timeout(1000)
    sheet.lever("port", 30)
    sheet.press("helm.enable")  # refused: a lever is ahead
    sheet.wait_mode("NEUTRAL_WAIT")
    page.click("[data-neutral=port]")
    sheet.wait_mode("READY")
    sheet.press("starboard.engine", "start")
    sheet.wait_text("[data-shaft=starboard] .parts", "runs,", 12.0)
    sheet.press("starboard.gear", "ahead")
    throttle = page.locator("input[data-target='starboard.throttle_pct']")
    throttle.focus()
    for _ in range(10):
        page.keyboard.press("ArrowUp")
    sheet.press("starboard.charge", "under_way")
    sheet.lever("port", 50)
    sheet.speed("10")
    sheet.wait_mode("GENERATE", "starboard", 30.0)
    page.wait_for_timeout(3500)
    sheet.speed("1")
    sheet.tab("faults")
    page.select_option("#fault", "handset_lost")
    page.click("#inject")
    page.select_option("#fault", "value_out_of_range")
    page.select_option("#fault-target", "port.drive.motor_c")
    page.click("#inject")
    page.wait_for_timeout(1500)


def kept(sheet: Sheet, where: str, file: Path) -> None:
    """One picture, in as few colours as a page like this has."""
    from PIL import Image

    sheet.page.wait_for_timeout(900)
    if where:
        sheet.page.locator(where).screenshot(path=file, animations="disabled")
    else:
        sheet.page.evaluate("window.scrollTo(0, 0)")
        sheet.page.screenshot(path=file, animations="disabled")
    with Image.open(file) as one:
        few = one.convert("RGB").quantize(96, method=Image.Quantize.MAXCOVERAGE)
    few.save(file, optimize=True)
    print(file)


def main(folder: Path) -> None:
    """Write every picture."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, Panel(Path(place)) as panel, chromium() as browser:
        sheet = Sheet(browser, panel.url)
        scene(sheet)
        sheet.tab("plots")
        sheet.page.mouse.move(1, 1)
        for theme in ("light", "dark"):
            if sheet.page.evaluate("document.documentElement.dataset.theme") != theme:
                sheet.page.click("#theme")
            for width, height in SIZES:
                sheet.page.set_viewport_size({"width": width, "height": height})
                kept(sheet, "", folder / f"{theme}_{width}.png")
        sheet.page.set_viewport_size({"width": 1280, "height": 900})
        sheet.page.evaluate("document.querySelector('.bar').style.position = 'static'")
        sheet.page.click("#theme")
        for view in ("why", "events", "faults", "around", "procedures", "traffic"):
            sheet.tab(view)
            kept(sheet, ".views", folder / f"{view}.png")
        sheet.end()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
