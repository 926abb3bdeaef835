"""Random sets of entries with every trouble that naming can make: forks, rings, other kinds, other hands, gaps."""

from hypothesis import strategies as st

from sessions.core.entries.counting import Link

IDS = [f"{number:02}" for number in range(12)]


@st.composite
def link_sets(draw: st.DrawFn) -> list[Link]:
    """Up to twelve entries with distinct ids, each naming any id, here or not, or none."""
    ids = draw(st.lists(st.sampled_from(IDS), unique=True, max_size=12))
    return [draw(_links(one)) for one in ids]


def _links(one: str) -> st.SearchStrategy[Link]:
    return st.builds(
        Link,
        id=st.just(one),
        kind=st.sampled_from(["cue", "cue", "cue", "stop", "stop", "felt"]),
        athlete=st.sampled_from(["runner-1", "runner-2"]),
        by=st.sampled_from(["coach-1", "coach-2", "runner-1", "runner-2"]),
        replaces=st.none() | st.sampled_from([other for other in IDS if other != one]),
        is_withdrawal=st.booleans(),
    )
