"""A real Chromium against a live server. Where no Chromium is found the tests say so and are skipped."""

import shutil
from pathlib import Path

import pytest

CHROMIUM = (
    shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
)
AXE = Path(__file__).parent / "vendor" / "axe-4.14.1.min.js"


def pytest_collection_modifyitems(items):
    for item in items:
        if "tests/browser" in item.nodeid.replace("\\", "/"):
            item.add_marker(pytest.mark.browser)
            if not CHROMIUM:
                item.add_marker(
                    pytest.mark.skip(reason="No Chromium found: install it to run these.")
                )


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    quiet = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ]
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": quiet}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args):
    return {**browser_context_args, "viewport": {"width": 360, "height": 740}}


@pytest.fixture
def problems(page):
    """What the browser complained about: errors in scripts, refused styles, failed requests."""
    found = []
    page.on("pageerror", lambda error: found.append(str(error)))
    page.on("console", lambda line: found.append(line.text) if line.type == "error" else None)
    return found


@pytest.fixture
def axe(page):
    """Runs axe-core, or some of its rules, on the page as it stands; a line for each violation."""

    def run(*rules: str) -> list[str]:
        if not page.evaluate("() => 'axe' in window"):
            page.evaluate(AXE.read_text(encoding="utf-8"))
        options = {"resultTypes": ["violations"]}
        if rules:
            options["runOnly"] = {"type": "rule", "values": list(rules)}
        result = page.evaluate("(options) => axe.run(document, options)", options)
        return [
            f"{rule['id']}: {rule['help']} ({node['target']})"
            for rule in result["violations"]
            for node in rule["nodes"]
        ]

    return run
