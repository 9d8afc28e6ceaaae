"""What can go wrong on such a boat."""

from sim.requirements.model import Hazard

_DEATH = "death or maiming of one person within seconds"
_ABOARD = "injury aboard, loss of the boat's way"
_FIRE = "fire or destroyed electronics"
_MONEY = "costly damage, boat out of service"

HAZARDS: tuple[Hazard, ...] = (
    Hazard("H-01", "unwanted shaft movement with a diver or swimmer at the propeller", _DEATH,
           "several times a season: clearing a rope, bathing, cleaning the hull"),
    Hazard("H-02", "thrust lost in a fairway", _ABOARD, "each passage: minutes to hours in confined water"),
    Hazard("H-03", "engine stalled by its generator", "loss of way and of steerage; " + _MONEY, "each charging run"),
    Hazard("H-04", "load dump: a source still feeds when the bank's contactor opens", _FIRE,
           "rare, but whenever a monitor protects its cells"),
    Hazard("H-05", "bank overcharged", _FIRE, "each charging run, at its end"),
    Hazard("H-06", "bank deeply discharged", _MONEY + "; later a fire risk when recharged", "each long passage"),
    Hazard("H-07", "cold bank charged (or a hot one)", "lithium plating, an internal short later: " + _FIRE,
           "each winter morning"),
    Hazard("H-08", "belt or coupling shocked", _MONEY, "each change of thrust"),
    Hazard("H-09", "torque against the shaft lock", _MONEY, "each departure with the lock forgotten"),
    Hazard("H-10", "propeller turns while charging at rest", _DEATH, "each charging run in harbour, people alongside"),
    Hazard("H-11", "runaway after loss of a signal", "collision; " + _DEATH, "any time under thrust"),
    Hazard("H-12", "machine idle but live", _DEATH, "each time the crew goes below or ashore and forgets it"),
    Hazard("H-13", "uncontrolled rectification by a machine turned fast", _FIRE,
           "engine at full speed, or fast sailing"),
    Hazard("H-14", "generating torque through an engine stall turns the engine backwards", _MONEY,
           "each charging run, near idle"),
    Hazard("H-15", "shaft turns with the shore cable in", "cable torn out live, boat torn from its berth",
           "each departure"),
    Hazard("H-16", "reset or return of a permissive into motion", _DEATH, "after each trip, with people at the fault"),
    Hazard("H-17", "two control positions at once", "collision, " + _ABOARD, "each manoeuvre with the handset"),
    Hazard("H-18", "clutch closed at speed", _MONEY, "each time the clutch is used"),
    Hazard("H-19", "restart after crash or power loss into motion", _DEATH, "after each loss of supply"),
    Hazard("H-20", "bus lost, frames corrupt, late or from the wrong sender", "collision; " + _DEATH,
           "loose connectors are the commonest fault of all"),
    Hazard("H-21", "drive connected to the bank without precharge", _FIRE, "each switching on"),
    Hazard("H-22", "drive keeps torque on against orders", _DEATH, "rare: a fault of the drive itself"),
    Hazard("H-23", "gearbox trailed without lubrication under sail", _MONEY, "each passage with harvest"),
    Hazard("H-24", "engine started into gear or against drive torque", _ABOARD, "each engine start"),
    Hazard("H-25", "crew not told in time", "a limit is met by surprise, in the wrong place", "each long passage"),
    Hazard("H-26", "one shaft's fault stops the other shaft", "thrust lost in a fairway",
           "twin-shaft boats, any fault"),
)  # fmt: skip
