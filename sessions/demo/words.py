"""Features of form of the invented club, and what its coaches and runners say about them."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class FeatureSpec:
    """A feature with words that coaches use: `outside` names something out there, `body` a part of the body."""

    code: str
    label: str
    description: str
    outside: tuple[str, ...]
    body: tuple[str, ...]
    own_words: tuple[str, ...]
    groups: tuple[str, ...] = ()
    is_retired: bool = False


FEATURES: tuple[FeatureSpec, ...] = (
    FeatureSpec(
        "tall_hips", "Tall hips", "The hips stay high from the first stride to the last.",
        ("a string lifts you from the gantry", "run over low grass, not through it"),
        ("hips up", "belly long, ribs over hips"),
        ("I sank at the end", "felt tall for once", "stayed up till the cone"),
    ),
    FeatureSpec(
        "eyes_ahead", "Eyes ahead", "The eyes rest on the lane some 9 to 14 m ahead.",
        ("look at the second cone", "read the far board"),
        ("chin level", "eyes up"),
        ("I watched my feet", "saw the cone all the way"),
    ),
    FeatureSpec(
        "foot_under", "Foot under the body", "The foot lands under the body, on its middle.",
        ("paint the line under you", "step down on the tape, not before it"),
        ("foot down under the hip", "pull the foot back before it lands"),
        ("I was reaching", "it landed under me", "too far in front"),
    ),
    FeatureSpec(
        "quick_foot", "Quick off the ground", "The foot leaves the ground quickly.",
        ("the track is hot", "tap it like a drum"),
        ("stiff ankle", "toe up early"),
        ("felt heavy on the ground", "quick and light"),
    ),
    FeatureSpec(
        "loose_hands", "Loose hands", "Hands, jaw and shoulders stay loose.",
        ("hold a feather", "carry a dry leaf and do not break it"),
        ("thumb on finger, no fist", "drop the shoulders"),
        ("I made fists", "hands were soft", "shoulders came up"),
    ),
    FeatureSpec(
        "arms_back", "Arms drive back", "The elbow drives back beside the body.",
        ("knock on the wall behind you", "ring the bell behind you"),
        ("elbow back", "hand past the hip"),
        ("arms went across", "elbows felt strong"),
    ),
    FeatureSpec(
        "lead_knee", "Lead knee first", "The knee leads over the hurdle.",
        ("kick the door open with the knee", "run at the crossbar of the far goal"),
        ("knee first, then foot",),
        ("leg swung round", "knee was early"),
        groups=("hurdles",),
    ),
    FeatureSpec(
        "bouncy_step", "Bouncy step", "An older wording, no longer used.", ("spring along",), ("push up",), ("bouncy",),
        is_retired=True,
    ),
)  # fmt: skip
IN_USE: Mapping[str, FeatureSpec] = {spec.code: spec for spec in FEATURES if not spec.is_retired}

STRENGTH_NOTES = (
    "even rhythm to the end",
    "loose from the start",
    "good line down the lane",
    "the end as well",
)
ADJUSTMENT_NOTES = ("gets lost after thirty metres", "only on the left", "first steps rushed", "better when slower")
DAY_WORDS = ("legs fresh", "long day at school", "good group today", "windy straight", "a bit short of sleep")
FELT_WORDS = ("came easily", "had to think a lot", "better on the last two", "new but all right")
PAIN = (
    ("lower_leg", "left", "pulls on the inside when pushing off"),
    ("foot", "right", "under the arch, since the second stride"),
    ("knee", "right", ""),
    ("thigh", "left", "tight at the back"),
    ("ankle", "left", "rolled it on the grass"),
    ("hip", "right", ""),
)
BRING = ("spikes and flat shoes", "a warm layer and water", "flat shoes only", "")
