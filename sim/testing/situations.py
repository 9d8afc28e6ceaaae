"""Ways from power-up into each mode, as steps that any rig and any procedure can do."""

from sim.testing.script import ScriptStep
from supervisor.config import BoatConfig

SITUATIONS = (
    "cold",
    "lever_ahead",
    "ready",
    "propel",
    "tripped",
    "isolated",
    "generate",
    "at_rest",
    "harvest",
    "handset",
)


def fitted(config: BoatConfig) -> tuple[str, ...]:
    """The situations that this boat can be brought into."""
    found = ["cold", "lever_ahead", "ready", "propel", "tripped", "isolated", "generate"]
    shafts = config.shaft
    if all(shaft.clutch.fitted and "shaft.charge_at_rest" not in shaft.not_fitted for shaft in shafts):
        found.append("at_rest")
    if all(shaft.gearbox.trailing_allowed and "shaft.harvest" not in shaft.not_fitted for shaft in shafts):
        found.append("harvest")
    if "handset.held" not in config.not_fitted:
        found.append("handset")
    return tuple(found)


def situation_steps(name: str, config: BoatConfig) -> list[ScriptStep]:
    """The steps into a situation. Raises ValueError naming what this boat has."""
    if name not in fitted(config):
        raise ValueError(f"this boat has no situation {name!r}; allowed: {', '.join(fitted(config))}")
    tick_s = config.boat.tick_s

    def step(seconds: float, **do: float | str | bool) -> ScriptStep:
        done = {key.replace("__", "."): value for key, value in do.items()}
        return ScriptStep(do=done, ticks=max(1, round(seconds / tick_s)))

    steps = [step(1.0)]
    if name == "cold":
        return steps
    if name == "lever_ahead":
        return [*steps, step(0.2, each__lever_pct=60.0)]
    neutral_s = config.limits.neutral_s
    steps.append(step(2.0 + neutral_s, helm__enable="press"))
    if name == "propel":
        steps.append(step(2.0, each__lever_pct=60.0))
    elif name == "handset":
        steps += [step(0.5, handset__held=True), step(2.0, handset__thrust_pct=60.0)]
    elif name == "tripped":
        steps += [step(0.5, helm__emergency_stop=True), step(0.5, helm__emergency_stop=False)]
    elif name == "isolated":
        shaft = config.shaft[0].name
        broken = ScriptStep(inject=[("drive_fault", shaft, ())], ticks=max(1, round(0.5 / tick_s)))
        steps += [broken, ScriptStep(clear=[("drive_fault", shaft)], ticks=max(1, round(0.5 / tick_s)))]
    elif name == "generate":
        steps.append(step(3.0, each__engine="start"))
        steps.append(step(5.0, each__gear="ahead", each__throttle_pct=50.0))
        steps.append(step(3.0, each__charge="under_way"))
    elif name == "at_rest":
        steps.append(step(2.5, each__clutch="open"))
        steps.append(step(3.0, each__engine="start"))
        steps.append(step(4.0, each__gear="ahead", each__throttle_pct=40.0))
        steps.append(step(3.0, each__charge="at_rest"))
    elif name == "harvest":
        under_sail = step(1.5, sail__force_n=3000.0)
        under_sail.set["boat.speed_kn"] = 7.0
        steps += [under_sail, step(2.0, each__harvest=True)]
    return steps
