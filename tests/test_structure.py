"""The house's own rules: imports run one way, and calculations know nothing of Django."""

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
APPS = ("inventory", "production", "shop")
CALCULATIONS = [
    "inventory/allocation.py",
    "inventory/amounts.py",
    "inventory/basket.py",
    "inventory/cautions.py",
    "inventory/cover.py",
    "inventory/demand.py",
    "inventory/implied.py",
    "inventory/density.py",
    "inventory/exchange/files.py",
    "inventory/exchange/guard.py",
    "inventory/exchange/notation.py",
    "inventory/exchange/reading.py",
    "inventory/exchange/table.py",
    "inventory/exchange/writing.py",
    "inventory/shelf_sheet.py",
    "inventory/measuring.py",
    "inventory/packs.py",
    "inventory/price_breaks.py",
    "inventory/outlook.py",
    "inventory/buying_words.py",
    "inventory/lead_times.py",
    "inventory/unused.py",
    "inventory/worth_adding.py",
    "inventory/drops.py",
    "inventory/flake_sizes.py",
    "inventory/replenish.py",
    "inventory/stock_chart.py",
    "inventory/sighting.py",
    "inventory/stocking.py",
    "inventory/temperature.py",
    "inventory/units.py",
    "inventory/uploaded.py",
    "shop/finding.py",
    "shop/money.py",
    "shop/order_import.py",
    "production/balance.py",
    "production/barrels.py",
    "production/blank_sheet.py",
    "production/chain_picture.py",
    "production/chip.py",
    "production/cup_picture.py",
    "production/cup_reading.py",
    "production/doses.py",
    "production/evening.py",
    "production/evening_model.py",
    "production/evening_record.py",
    "production/evening_problem.py",
    "production/evening_reckoning.py",
    "production/evening_rule.py",
    "production/evening_search.py",
    "production/evening_terms.py",
    "production/allowance.py",
    "production/plan_choice.py",
    "production/plan_chart.py",
    "production/plan_cups.py",
    "production/plan_figures.py",
    "production/measured.py",
    "production/plan_layers.py",
    "inventory/lineage_layout.py",
    "inventory/svg.py",
    "production/header_card.py",
    "production/label_template.py",
    "production/package_checks.py",
    "production/plain_label.py",
    "production/svg_canvas.py",
    "production/symbols.py",
    "production/pour_cards.py",
    "production/pour_sheet.py",
    "production/pour_sheet_parts.py",
    "production/pour_table.py",
    "production/gtin.py",
    "production/hot_cold.py",
    "production/labels.py",
    "production/mixing.py",
    "production/mold_sheet.py",
    "production/recipe_sheet.py",
    "production/mold_correction.py",
    "production/molding.py",
    "production/peaks.py",
    "production/promise.py",
    "production/promise_aside.py",
    "production/promise_checks.py",
    "production/promise_left.py",
    "production/promise_model.py",
    "production/promise_rule.py",
    "production/promise_short.py",
    "production/promise_story.py",
    "production/promise_terms.py",
]


def _imports(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return {name.split(".")[0] for name in names}


def _modules(app: str) -> list[Path]:
    return [path for path in (TOP / app).rglob("*.py") if "migrations" not in path.parts]


@pytest.mark.parametrize(
    ("app", "forbidden"), [("inventory", {"production", "shop"}), ("production", {"shop"})]
)
def test_imports_run_one_way(app, forbidden):
    wrong = {str(path.relative_to(TOP)) for path in _modules(app) if _imports(path) & forbidden}
    assert wrong == set()


@pytest.mark.parametrize("name", CALCULATIONS)
def test_calculations_know_nothing_of_django(name):
    assert not _imports(TOP / name) & {"django", "shop"}


def test_only_the_ledger_service_writes_movements():
    writers = {
        str(path.relative_to(TOP))
        for app in APPS
        for path in _modules(app)
        if "Movement.objects.create" in path.read_text(encoding="utf-8")
        or "Movement.objects.bulk_create" in path.read_text(encoding="utf-8")
        or "Content.objects.bulk_create" in path.read_text(encoding="utf-8")
    }
    assert writers == {"inventory/services/ledger.py"}


def test_templates_carry_no_inline_script_style_or_foreign_host():
    bad = (
        "<script>",
        "<style",
        ' style="',
        "|safe",
        "onclick=",
        "onsubmit=",
        'src="http',
        'href="http',
    )
    found = {
        f"{path.relative_to(TOP)}: {mark}"
        for path in (TOP / "templates").rglob("*.html")
        for mark in bad
        if mark in path.read_text(encoding="utf-8")
    }
    assert found == set()
