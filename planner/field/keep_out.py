"""What stays out of a worm bin, and why; common practice, no source."""

from __future__ import annotations

KEEP_OUT = {
    "bones": "they draw rats and flies and hardly rot",
    "bread": "in more than crumbs it heats up, moulds and draws rats",
    "compostable_plastic": "it needs a hot plant and stays whole in a worm bin",
    "cooked_food": "salt, oil and sauce burn worms, and it draws rats and flies",
    "dairy": "it turns sour, smells and draws rats and flies",
    "diseased_plants": "a worm bin is too cool to kill what ails them",
    "fish": "it smells and draws rats and flies",
    "garlic": "worms shun it, and it smells as it rots",
    "glossy_paper": "its coating and inks do not rot",
    "meat": "it rots, smells and draws rats and flies",
    "nappies": "they carry germs, and a worm bin is too cool to kill them",
    "oil": "it clogs the skin through which worms breathe",
    "onion": "worms shun it, and it smells as it rots",
    "pet_waste": "it carries germs and worming medicine, and a worm bin is too cool for them",
    "salty_food": "salt burns the skin of worms",
    "treated_wood": "its preservatives poison worms",
    "weed_seeds": "a worm bin is too cool to kill them, and they sprout with the castings",
}
"""For each thing, the reason that is given to those who put it in."""
