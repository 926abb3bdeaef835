"""Weeks in which some athletes belong to two groups, drawn from a seed out of a week in which nobody does."""

import copy
import random


def linked(document, share, seed):
    """The document with so large a share of its athletes in a second group each."""
    rng = random.Random(seed)
    new = copy.deepcopy(document)
    names = [athlete["id"] for athlete in new["athletes"]]
    for name in rng.sample(names, round(share * len(names))):
        others = [group for group in new["groups"] if name not in group["athletes"]]
        rng.choice(others)["athletes"].append(name)
    return new
