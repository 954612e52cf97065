"""Problems of a worm bin by their codes: likely causes, and what to advise.

Common practice, no source, as keepers and councils give it; cautions are the usual ones.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Advice:
    """A problem in words, its likely causes, and what to advise."""

    words: str
    causes: str
    advice: str


ADVICE = {
    "smell": Advice(
        "smell",
        "too much food, meat or dairy, too wet, too little air",
        "Stop feeding until the food is gone. Take out what rots, fork in torn cardboard, drain "
        "the liquid. Feed half as much from then on, and bury it.",
    ),
    "too_wet": Advice(
        "too wet",
        "wet scraps without bedding, blocked drain, rain or condensation",
        "Fork in dry torn cardboard or shredded paper, open the drain, feed drier scraps for two "
        "weeks. Keep the liquid off leaves that are eaten.",
    ),
    "too_dry": Advice(
        "too dry",
        "sun and wind, much paper, little wet food",
        "Sprinkle water until it feels like a wrung-out cloth, cover with damp cardboard, move it "
        "to shade. Wet it before you handle it: dry dust can carry Legionella and moulds.",
    ),
    "flies": Advice(
        "flies",
        "scraps lie open, too much fruit, lid ajar",
        "Bury food under bedding, cover it with damp cardboard, freeze fruit peel overnight before "
        "feeding, close the lid. They go within weeks.",
    ),
    "mites": Advice(
        "mites",
        "wet, sour food, much bread or fruit",
        "Feed less and drier, lay a slice of bread on top and take it out with the mites after a "
        "day, add crushed eggshell. Most mites do no harm.",
    ),
    "ants": Advice(
        "ants",
        "dry bedding, sweet scraps, legs within reach of an ants' trail",
        "Wet the bedding, stand the legs in saucers of water, bury sweet scraps. No insecticide: "
        "it kills the worms.",
    ),
    "worms_escaped": Advice(
        "worms leave",
        "new bin, heavy rain, too wet, sour or hot",
        "Leave a light on over the bin for some nights, check that it is moist, not sour and not "
        "hot. Put worms back; do not release them in the garden or bush.",
    ),
    "worms_died": Advice(
        "worms died",
        "heat, frost, dried out, drowned, sour food, poison; weak worms from the start",
        "Find the cause first and set it right: new worms in a bad bin die too. Then top up, or "
        "replace the bin. Note the delivery: several at once point to weak worms.",
    ),
    "heat": Advice(
        "too hot",
        "sun, a hot wall, much fresh food that heats",
        "Move it to shade, leave the lid ajar, stop feeding, lay a frozen bottle on top. Above "
        "30 °C worms suffer, above 35 °C they die.",
    ),
    "frost": Advice(
        "frost",
        "bin stands open in winter",
        "Bring it to a shed or garage, wrap it in cardboard or blankets, feed little: worms eat "
        "slowly below 10 °C.",
    ),
    "no_castings": Advice(
        "no castings to harvest",
        "young bin, few worms, little food, all trays fed at once",
        "Castings take three to six months. Feed one tray only, and wait until the lowest is dark "
        "and crumbly.",
    ),
    "rodents": Advice(
        "rats or mice",
        "meat, bread or fat in the bin, holes, food beside it",
        "Take meat, dairy, bread and fat out, close holes with wire mesh, lift the bin off the "
        "ground. Wear gloves. Follow local pest rules; tell the council's pest team.",
    ),
    "other": Advice(
        "other", "", "Ask what they see, smell and feel; visit where words do not tell."
    ),
}
"""Each code of a problem but none."""
