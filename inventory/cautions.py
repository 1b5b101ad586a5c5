"""The cautions that pages and papers show where something can hurt or cost: their words stand here only.

The words are ours; what they rest on is in each line's comment (common practice where none is named).
"""

from dataclasses import dataclass

DEFER = "Follow the data sheet, local rules and qualified advice."


@dataclass(frozen=True)
class Caution:
    title: str
    text: str


CAUTIONS = {
    # UTMB pediatrics: two seconds in 66 °C water burn badly; plastisol is about 100 °C hotter.
    "heat": Caution(
        "Hot plastic",
        "Sticks and burns deeply. Gloves, sleeves, face shield. Thermometer, not guesswork.",
    ),
    # NIOSH: hydrogen chloride, ceiling 5 ppm; it may ride plasticizer aerosol deep into the lungs.
    "too_hot": Caution(
        "Too hot",
        "Sharp smell or browning means acid gas: stop heat if safe, leave, ventilate. Do not re-melt.",
    ),
    # US Fire Administration on water in hot oil; for plastisol common practice, no source.
    "dry": Caution(
        "Before pouring", "Everything bone dry? One drop of water can throw hot plastic."
    ),
    # FDA on eruptions of overheated water; for plastisol common practice, no source.
    "microwave": Caution("Microwave", "Short bursts, stir, rest. It can erupt when moved."),
    # National Academies, Prudent Practices: vacuum vessels; headspace common practice, no source.
    "vacuum": Caution(
        "Vacuum",
        "Shield on, chamber uncracked, space to rise. Vent slowly; never carry under vacuum.",
    ),
    # NIOSH NPGD0022: fine aluminum dust ignites easily.
    "dust": Caution(
        "Dusty additives",
        "Pour low. Avoid breathing dust. No flame or sparks near metallic powder.",
    ),
    # USP 32 ⟨1101⟩: drops vary by liquid.
    "measures": Caution("Drops, spoons", "Estimate only. Weigh."),
    "remelt": Caution("Re-melt", "Each melt spends stabilizer."),
    # 26 USC 4161.
    "tax": Caution("Sales", "US excise tax may be due. Ask a tax adviser."),
    # California Proposition 65; Regulation (EU) 2023/2055.
    "wording": Caution(
        "California, EU", "Plasticizer or glitter rules may apply. You decide the wording."
    ),
    # 16 CFR 1307.3.
    "children": Caution(
        "Made for children?",
        "Children's-product rules may apply, including phthalate limits and testing.",
    ),
    # St John Ambulance Cymru, North Bristol NHS Trust, HealthLink BC.
    "burn": Caution(
        "Burned?",
        "Cool running water, 20 minutes. Don't peel plastic. No ice or cream. "
        "Large, deep, face, hand or foot: emergency help.",
    ),
    "prediction": Caution("Prediction", "Pour a test piece."),
}
