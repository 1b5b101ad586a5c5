"""Seeded evenings, a second reckoning of a plan from its fills, and a brute force over all plans.

Nothing here is taken from the planner: limits, melts, cups and cost are worked out again from the
evening's rules, the least cost by trying every order and every choice of feeds, a linear program each.
"""

import dataclasses
import itertools
import random

from scipy import optimize

from production import evening

SLACK_ML = 1e-6


# -- seeded evenings ---------------------------------------------------------------------------------


def small_evening(seed: int) -> tuple[list, list, dict]:
    """Three solid layers and a jar; carry, cold cost, clean cups, washes, melts and cups all vary."""
    pick = random.Random(seed)
    layers = [_layer(pick, f"batch {n}", f"color {n}") for n in range(3)]
    jar = evening.Jar("jar", "soft", pick.uniform(5, 90), _doses(pick), pick.randint(1, 2))
    return layers, [jar], _rules(pick, least_cups=1)


def laminate_evening(seed: int) -> tuple[list, list, dict]:
    """Four layers: two laminates, or a laminate and two solids; now and then a jar."""
    pick = random.Random(1000 + seed)
    patterns = pick.choice([["duo", "duo", "pair", "pair"], ["duo", "duo", "plain", "dusk"]])
    layers = [_layer(pick, f"batch {n}", pattern) for n, pattern in enumerate(patterns)]
    pick.shuffle(layers)
    jars = []
    if pick.random() < 0.3:
        jars = [evening.Jar("jar", "soft", pick.uniform(5, 90), _doses(pick), pick.randint(1, 2))]
    return layers, jars, _rules(pick, least_cups=2)


def four_colors(seed: int) -> tuple[list, list, dict]:
    """Four solid layers, no jar and no trim: 24 orders of pouring, and cups that go on or wait."""
    pick = random.Random(2000 + seed)
    layers = [_layer(pick, f"batch {n}", f"color {n}") for n in range(4)]
    layers = [dataclasses.replace(layer, trim_ml=0) for layer in layers]
    return layers, [], _rules(pick, least_cups=1)


def workshop_evening(seed: int, layers: int, jars: int) -> tuple[list, list, dict]:
    """An evening of a workshop with two pigments and a flake in pale, medium and dark doses.

    Shots of 40 to 220 mL, heels of 8 to 20, sprues and rejects of 15 to 40 %, a laminate now and then;
    jars of 15 to 120 mL, melted once or twice; four cups of 300 mL, two of them clean, at most 4 melts.
    """
    pick = random.Random(seed)
    shades = [["plum"], ["soot"], ["plum", "glint"], ["soot", "glint"]]
    amounts = [0.003, 0.006, 0.012, 0.02, 0.03]
    pattern, made = 0, []
    while len(made) < layers:
        pattern += 1
        together = 2 if pick.random() < 0.25 and len(made) < layers - 1 else 1
        for _ in range(together):
            shots = pick.uniform(40, 220)
            doses = {key: pick.choice(amounts) for key in pick.choice(shades)}
            trim = shots * pick.uniform(0.15, 0.4)
            key, heel = f"batch {len(made)}", pick.uniform(8, 20)
            made.append(
                evening.Layer(key, "soft", shots, heel, doses, f"color {pattern}", trim_ml=trim)
            )
    kept = [
        evening.Jar(
            f"jar {n}",
            "soft",
            pick.uniform(15, 120),
            {key: pick.choice(amounts) for key in pick.choice(shades)},
            pick.randint(1, 2),
        )
        for n in range(jars)
    ]
    rules = {
        "prices": {"soft": 0.012, "plum": 0.5, "glint": 0.2, "soot": 0.35},
        "cups": 4,
        "max_melts": 4,
        "wash_cost": 0.25,
        "clean_cups": 2,
        "cold_cost": 0.1,
        "carry": False,
        "cup_ml": 300,
    }
    return made, kept, rules


def _layer(pick: random.Random, key: str, pattern: str) -> evening.Layer:
    shots = pick.uniform(20, 120)
    trim = shots * pick.uniform(0.15, 0.4) if pick.random() < 0.4 else 0
    return evening.Layer(
        key,
        "soft",
        shots,
        pick.choice([0, 6, 12, 20]),
        _doses(pick),
        pattern,
        trim_ml=trim,
        trace={"soot": 0.0005} if pick.random() < 0.2 else None,
    )


def _doses(pick: random.Random) -> dict[str, float]:
    keys = pick.choice([["plum"], ["plum", "glint"], ["plum", "glint"], ["plum", "soot"]])
    return {key: pick.choice([0.004, 0.008, 0.015, 0.03]) for key in keys}


def _rules(pick: random.Random, least_cups: int) -> dict:
    carry = pick.random() < 0.5
    return {
        "prices": {"soft": 0.012, "plum": 0.5, "glint": 0.2, "soot": 0.35},
        "cups": least_cups + pick.choice([0, 0, 1, 3]),
        "max_melts": pick.choice([2, 2, 3, 5]),
        "wash_cost": pick.choice([0, 0.1, 0.4]),
        "clean_cups": pick.choice([0, 1, 2]),
        "cold_cost": pick.choice([0, 0, 0.3]),
        "carry": carry,
        "cup_ml": 180 if carry or pick.random() < 0.3 else None,
        "min_feed_ml": pick.choice([1.0, 4.0]),
        "tolerance": pick.choice([0.05, {"plum": 0.05, "glint": 0.25}]),
        "trace": {"glint": 0.001} if pick.random() < 0.3 else None,
    }


# -- the rules, read a second time -------------------------------------------------------------------


def most_per_ml(layer: evening.Layer, key: str, rules: dict) -> float:
    target = layer.doses.get(key, 0)
    if target == 0:
        trace = layer.trace if layer.trace is not None else rules.get("trace")
        return (trace or {}).get(key, 0)
    tolerance = rules.get("tolerance", 0.05)
    if isinstance(tolerance, dict):
        tolerance = tolerance.get(key, 0.05)
    return target * (1 + tolerance)


def trim_of(layers: list, pattern: str) -> tuple[float, dict[str, float]]:
    """The trim of a pattern: its mL, and its doses per mL weighted by each layer's share of it."""
    members = [layer for layer in layers if layer.pattern == pattern]
    amount = sum(layer.trim_ml for layer in members)
    keys = {key for layer in members for key in layer.doses}
    mixed = {
        key: sum(layer.doses.get(key, 0) * layer.trim_ml for layer in members) / amount
        for key in keys
        if amount
    }
    return amount, mixed


def composition(layers: list, jars: list, source: str) -> dict[str, float]:
    for thing in [*layers, *jars]:
        if thing.key == source:
            return dict(thing.doses)
    return trim_of(layers, source.removeprefix("trim:"))[1]


def melts_of(layers: list, jars: list, order: list[str], feeds: set) -> dict[str, int]:
    """Melts of each layer when `feeds` holds pairs (source's key, layer's key)."""
    of = {jar.key: jar.melts for jar in jars}
    by_key = {layer.key: layer for layer in layers}
    for key in order:
        of[key] = 1 + max((of[source] for source, fed in feeds if fed == key), default=0)
        trim = f"trim:{by_key[key].pattern}"
        of[trim] = max(of.get(trim, 0), of[key])
    return of


def cups_in_use(layers: list, order: list[str], feeds: set) -> int:
    """The most cups in use at once: a pattern's own, and those whose remains feed a later pattern."""
    pattern = {layer.key: layer.pattern for layer in layers}
    turns = list(dict.fromkeys(pattern[key] for key in order))
    most = 0
    for turn, now in enumerate(turns):
        own = sum(layer.pattern == now for layer in layers)
        waiting = {
            source
            for source, fed in feeds
            if source in pattern and turns.index(pattern[source]) < turn < turns.index(pattern[fed])
        }
        most = max(most, own + len(waiting))
    return most


def cups_going_on(layers: list, feeds: set) -> int:
    """The most layers that can have a cup of their own choice among those whose remains feed them."""
    offers = [
        [source for source, fed in feeds if fed == layer.key and source in {x.key for x in layers}]
        for layer in layers
    ]
    best = 0
    for choice in itertools.product(*[[None, *offer] for offer in offers]):
        taken = [source for source in choice if source is not None]
        if len(taken) == len(set(taken)):
            best = max(best, len(taken))
    return best


def recheck(layers: list, jars: list, plan: evening.EveningPlan, rules: dict) -> None:
    """Assert every rule of the evening on the plan's fills, and its cost from its own amounts."""
    by_key = {layer.key: layer for layer in layers}
    order = list(plan.order)
    assert sorted(order) == sorted(by_key) == sorted(plan.fills)
    blocks = [pattern for pattern, _ in itertools.groupby(by_key[key].pattern for key in order)]
    assert len(blocks) == len(set(blocks)), "layers of a pattern follow each other"
    taken: dict[str, float] = {}
    for key in order:
        layer, fill = by_key[key], plan.fills[key]
        earlier = blocks[: blocks.index(layer.pattern)]
        for source, amount in fill.sources.items():
            assert amount >= rules.get("min_feed_ml", 1.0) - SLACK_ML
            taken[source] = taken.get(source, 0) + amount
            if source in by_key:
                assert by_key[source].pattern in earlier
                assert by_key[source].grade == layer.grade
            elif source.startswith("trim:"):
                assert source.removeprefix("trim:") in earlier
            else:
                assert next(jar for jar in jars if jar.key == source).grade == layer.grade
        _recheck_mix(layers, jars, layer, fill, rules)
    for source, amount in taken.items():
        assert amount <= _held(layers, jars, plan, source) + SLACK_ML
    feeds = {(source, key) for key, fill in plan.fills.items() for source in fill.sources}
    melts = melts_of(layers, jars, order, feeds)
    for key, fill in plan.fills.items():
        assert fill.melts == melts[key] <= rules["max_melts"]
    assert cups_in_use(layers, order, feeds) <= rules["cups"]
    clean = sum(fill.clean_cup for fill in plan.fills.values())
    assert clean == len(layers) - cups_going_on(layers, feeds)
    assert abs(plan.cost - cost_of(layers, plan, rules)) <= 1e-9 * max(1, plan.cost)


def _recheck_mix(layers: list, jars: list, layer, fill: evening.Fill, rules: dict) -> None:
    need = layer.shots_ml + layer.heel_ml
    assert fill.base_ml >= need - SLACK_ML
    if not rules.get("carry"):
        assert fill.base_ml <= need + SLACK_ML
    if rules.get("cup_ml") is not None:
        assert fill.base_ml <= rules["cup_ml"] + SLACK_ML
    assert fill.fresh_ml >= 0
    assert abs(fill.fresh_ml + sum(fill.sources.values()) - fill.base_ml) <= SLACK_ML
    held = {key for source in fill.sources for key in composition(layers, jars, source)}
    for key in held | set(layer.doses):
        brought = sum(
            composition(layers, jars, source).get(key, 0) * amount
            for source, amount in fill.sources.items()
        )
        assert brought <= most_per_ml(layer, key, rules) * fill.base_ml + SLACK_ML
        short = max(0, layer.doses.get(key, 0) * fill.base_ml - brought)
        assert abs(fill.additions.get(key, 0) - short) <= SLACK_ML


def _held(layers: list, jars: list, plan: evening.EveningPlan, source: str) -> float:
    for jar in jars:
        if jar.key == source:
            return jar.base_ml
    for layer in layers:
        if layer.key == source:
            return plan.fills[source].base_ml - layer.shots_ml
    return trim_of(layers, source.removeprefix("trim:"))[0]


def cost_of(layers: list, plan: evening.EveningPlan, rules: dict) -> float:
    prices, by_key = rules["prices"], {layer.key: layer for layer in layers}
    cost, clean = 0.0, 0
    for key, fill in plan.fills.items():
        cost += fill.fresh_ml * prices[by_key[key].grade]
        cost += sum(amount * prices[dose] for dose, amount in fill.additions.items())
        if fill.fresh_ml > 0 or any(source not in by_key for source in fill.sources):
            cost += rules.get("cold_cost", 0)
        clean += fill.clean_cup
    return cost + rules["wash_cost"] * max(0, clean - rules.get("clean_cups", 0))


# -- every order and every choice of feeds -----------------------------------------------------------


def least_cost(layers: list, jars: list, rules: dict) -> float:
    """The least cost over all orders of the patterns and all choices of which source feeds which."""
    best, known = float("inf"), {}
    for order in _orders(layers):
        possible = _possible_feeds(layers, jars, order, rules)
        for size in range(len(possible) + 1):
            for feeds in itertools.combinations(possible, size):
                feeds = frozenset(feeds)
                if cups_in_use(layers, order, feeds) > rules["cups"]:
                    continue
                melts = melts_of(layers, jars, order, feeds)
                if max(melts[layer.key] for layer in layers) > rules["max_melts"]:
                    continue
                if feeds not in known:
                    known[feeds] = _cost_of_choice(layers, jars, feeds, rules)
                best = min(best, known[feeds])
    return best


def _orders(layers: list):
    patterns = list(dict.fromkeys(layer.pattern for layer in layers))
    for turns in itertools.permutations(patterns):
        yield [layer.key for now in turns for layer in layers if layer.pattern == now]


def _possible_feeds(layers: list, jars: list, order: list[str], rules: dict) -> list:
    """Feeds that are not ruled out by themselves: by order, by a forbidden key, by the smallest feed."""
    by_key = {layer.key: layer for layer in layers}
    turns = list(dict.fromkeys(by_key[key].pattern for key in order))
    possible = []
    for fed in layers:
        earlier = turns[: turns.index(fed.pattern)]
        sources = [jar.key for jar in jars]
        sources += [layer.key for layer in layers if layer.pattern in earlier]
        sources += [f"trim:{now}" for now in earlier if trim_of(layers, now)[0] > 0]
        most_base = fed.shots_ml + fed.heel_ml
        if rules["carry"]:
            most_base = rules["cup_ml"] or float("inf")
        for source in sources:
            least = rules["min_feed_ml"]
            doses = composition(layers, jars, source)
            fits = all(
                dose * least <= most_per_ml(fed, key, rules) * most_base
                for key, dose in doses.items()
                if dose > 0 and not (most_per_ml(fed, key, rules) > 0 and most_base == float("inf"))
            )
            if fits:
                possible.append((source, fed.key))
    return possible


def _cost_of_choice(layers: list, jars: list, feeds: frozenset, rules: dict) -> float:
    """The cost of the best amounts for this choice of feeds; infinite when there are none."""
    clean = len(layers) - cups_going_on(layers, feeds)
    washes = rules["wash_cost"] * max(0, clean - rules["clean_cups"])
    keys = {layer.key for layer in layers}
    cold = {fed for source, fed in feeds if source not in keys}
    maybe_warm = sorted(keys - cold) if rules["cold_cost"] else []
    maybe_warm = [key for key in maybe_warm if any(fed == key for _, fed in feeds)]
    best = float("inf")
    for count in range(len(maybe_warm) + 1):
        for warm in itertools.combinations(maybe_warm, count):
            plastic = _plastic_cost(layers, jars, sorted(feeds), warm, rules)
            best = min(best, plastic + rules["cold_cost"] * (len(layers) - len(warm)))
    return best + washes


def _plastic_cost(layers: list, jars: list, feeds: list, warm: tuple, rules: dict) -> float:
    """The linear program: amounts of these feeds, carry and additions; no fresh in `warm` layers."""
    prices, names = rules["prices"], []
    names += [("feed", *feed) for feed in feeds]
    names += [("base", layer.key) for layer in layers]
    names += [("add", layer.key, key) for layer in layers for key in layer.doses]
    column = {name: index for index, name in enumerate(names)}
    cost = [0.0] * len(names)
    bounds: list[tuple[float, float | None]] = [(0, None)] * len(names)
    rows, most, equal, exactly = [], [], [], []

    def row() -> list[float]:
        return [0.0] * len(names)

    for layer in layers:
        base = column["base", layer.key]
        need = layer.shots_ml + layer.heel_ml
        bounds[base] = (need, need if not rules["carry"] else rules["cup_ml"])
        into = [feed for feed in feeds if feed[1] == layer.key]
        cost[base] += prices[layer.grade]
        fresh = row()
        fresh[base] = -1.0
        for feed in into:
            bounds[column["feed", *feed]] = (rules["min_feed_ml"], None)
            cost[column["feed", *feed]] -= prices[layer.grade]
            fresh[column["feed", *feed]] = 1.0
        rows, most = [*rows, fresh], [*most, 0.0]
        if layer.key in warm:
            equal, exactly = [*equal, fresh], [*exactly, 0.0]
        held = {key for source, _ in into for key in composition(layers, jars, source)}
        for key in held | set(layer.doses):
            limit, short = row(), row()
            for feed in into:
                dose = composition(layers, jars, feed[0]).get(key, 0)
                limit[column["feed", *feed]] = dose
                short[column["feed", *feed]] = -dose
            limit[base] = -most_per_ml(layer, key, rules)
            rows, most = [*rows, limit], [*most, 0.0]
            if key in layer.doses:
                short[base] = layer.doses[key]
                short[column["add", layer.key, key]] = -1.0
                cost[column["add", layer.key, key]] = prices[key]
                rows, most = [*rows, short], [*most, 0.0]
    for source in {source for source, _ in feeds}:
        taken = row()
        for feed in feeds:
            if feed[0] == source:
                taken[column["feed", *feed]] = 1.0
        held_ml = [jar.base_ml for jar in jars if jar.key == source]
        held_ml += [-layer.shots_ml for layer in layers if layer.key == source]
        if ("base", source) in column:
            taken[column["base", source]] = -1.0
        if source.startswith("trim:"):
            held_ml = [trim_of(layers, source.removeprefix("trim:"))[0]]
        rows, most = [*rows, taken], [*most, held_ml[0]]
    answer = optimize.linprog(
        cost, A_ub=rows, b_ub=most, A_eq=equal or None, b_eq=exactly or None, bounds=bounds
    )
    return answer.fun if answer.status == 0 else float("inf")
