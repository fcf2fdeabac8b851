"""What a skill takes over from the skills that it is made of: where it may be practised, what it loads."""
from __future__ import annotations

from bot.scheme.model import Scheme, Skill


def made_of(scheme: Scheme, skill: Skill) -> tuple[Skill, ...]:
    """The skill itself and all that it uses, directly or not, each once. Unknown ids are passed over."""
    found: dict[str, Skill] = {skill.id: skill}
    waiting = list(skill.uses)
    while waiting:
        used = scheme.skills.get(waiting.pop(0))
        if used is not None and used.id not in found:
            found[used.id] = used
            waiting += used.uses
    return tuple(found.values())


def home_rule(scheme: Scheme, skill: Skill) -> str | None:
    """The strictest rule for home of a skill and all that it uses: `"no"`, the conditions, or None (fine).

    Where several conditions come together all of them hold, so all are named, joined by "; ".
    """
    rules = [one.home for one in made_of(scheme, skill) if one.home is not None]
    if "no" in rules:
        return "no"
    return "; ".join(dict.fromkeys(rules)) or None


def all_loads(scheme: Scheme, skill: Skill) -> tuple[str, ...]:
    """What a skill and all that it uses load (`wrists`, `back`, `neck`, `landing`, …), each once."""
    return tuple(dict.fromkeys(load for one in made_of(scheme, skill) for load in one.loads))
