"""How is a plan told, whoever tells it: the sentences, with room for figures in the reader's units?

A terminal and a page format litres, money and time each in their own way and hand them in ready to
be read. What the sentences say stands here once.
"""

from __future__ import annotations

from collections.abc import Sequence

NOTHING_HOLDS = "Nothing that matters: more fluid goes on helping."

#: What a figure must move by to be worth a number.
_SEEN_POINTS = 0.1


def behind_colon(sentence: str) -> str:
    """Return a sentence as it goes on behind a colon; signs and names keep their capitals.

    >>> behind_colon("The code is past its target."), behind_colon("ISO 4406 says so.")
    ('the code is past its target.', 'ISO 4406 says so.')
    """
    begins_plainly = sentence[1:2].islower() or sentence[1:2] == " "
    return sentence[:1].lower() + sentence[1:] if begins_plainly else sentence


def counted(count: int, one: str, many: str) -> str:
    """Return a count with its word.

    >>> counted(1, "try", "tries"), counted(3, "try", "tries")
    ('1 try', '3 tries')
    """
    return f"{count} {one if count == 1 else many}"


def of_100(share: float) -> str:
    """Say a share of simulated machines as people read it; what is not quite 95 is not 95.

    >>> of_100(0.9497)
    '94 of 100 simulated machines'
    """
    return f"{int(share * 100.0 + 1e-9)} of 100 simulated machines"


def promise(*, buy: str, steps: int, target: str, held: str, took: str, who: str, cost: str) -> str:
    """Say what a plan that reaches its target needs and keeps."""
    return (
        f"Buy {buy} and follow {counted(steps, 'step', 'steps')}: at most {target} old fluid will "
        f"be left in {held}. About {took} for {who}, about {cost}."
    )


def falls_short(
    *, buy: str, target: str, sure: str, comes_to: str, took: str, who: str, cost: str
) -> str:
    """Say what a plan that can't reach its target needs, and how near it comes."""
    return (
        f"{target} old fluid cannot be reached in {sure} with what is allowed here. The steps that "
        f"come nearest at sensible cost leave {comes_to} or less, with {buy}. About {took} for "
        f"{who}, about {cost}."
    )


def judged_on(members: int, tries: Sequence[str]) -> str:
    """Say on how many machines a plan was judged, and how often; each try in a few words."""
    if not tries:
        return f"Judged on {members} simulated machines."
    count = "one try" if len(tries) == 1 else f"{len(tries)} tries"
    return (
        f"Judged on {members} simulated machines that the search never saw, {count}: "
        f"{'; '.join(tries)}."
    )


def tried(held_share: float, containers: int, seed: int) -> str:
    """Say what one try came to."""
    return (
        f"{held_share * 100.0:.1f} of 100 on {counted(containers, 'container', 'containers')} "
        f"(seed {seed})"
    )


def stays(sure: str, share: str) -> str:
    """Say how much no amount of new fluid moves."""
    return f"However much more is poured in this way, {sure} come down to {share}, not lower."


def holds_on(part: str, points: float, why: str = "") -> str:
    """Say what one part keeps, in points of the whole, and why where that is known."""
    tail = f": {why}" if why else ""
    return f"in {part} {points:.1f} points{tail}"


def worth_measuring(
    *, name: str, doubt: str, how: str, took: str, sure: str, now: float, then: float
) -> str:
    """Say what measuring one thing is worth; ``now`` and ``then`` are shares of old fluid."""
    points = 100.0 * (now - then)
    worth = (
        f"lowers the figure that {sure} keep by about {points:.1f} points"
        if points >= _SEEN_POINTS
        else f"hardly moves the figure that {sure} keep"
    )
    return f"{name} (makes {doubt} of the doubt): {how}. {took}; {worth}."


def warms_up(to: str, took: str | None) -> str:
    """Say how long the warm-up takes; None where it never gets there."""
    return f"never reaches {to} at idle" if took is None else f"about {took} at idle to {to}"


def level_read_hot(height: str, is_above: bool, swelling: str) -> str:
    """Say where the right level stands when it is read hot."""
    side = "above" if is_above else "below"
    return f"read hot, the right level stands {height} {side} the mark ({swelling} of swelling)"
