"""What can go wrong on such a boat, what meets it, and whose duty the rest is.

Severity and exposure are the authors' judgement on two scales (sim.requirements.model), not measurements; they rank
what to look at first and are no figure of risk. Which requirements meet a hazard is said by the requirements.
"""

from sim.requirements.model import Check, Exposure, Hazard, Severity

_S, _E = Severity, Exposure

CHECK = Check("`thwart check`", "supervisor.config.checks.check_config")
PROVE = Check("`thwart prove`", "sim.prove.cli.run")
FINGERPRINT = Check("the journal's fingerprint of boat file and DBC files", "supervisor.journal.folder.fingerprint")
VERSION = Check("the journal's version of the program", "supervisor.journal.RunStart")
LOSS = Check("the alarm for an input that was lost", "supervisor.rules.outputs.shaft_alarms")
OVERSPEED = Check("the alarm for overspeed", "supervisor.rules.outputs.shaft_alarms")
HEAT = Check("the derate by motor, inverter and coolant temperature", "supervisor.rules.readings.temperature_factor")
OWN = Check("SR-50, if the boat file has an `[[interlock]]` for it", "supervisor.rules.own.own_state")
LISTEN = Check("`thwart replay` without `--onto`, which sends nothing", "sim.replay.playback.parse_onto")

HAZARDS: tuple[Hazard, ...] = (
    Hazard("H-01", "unwanted shaft movement with a diver or swimmer at the propeller", _S.DEATH, _E.SEASON,
           "Somebody clears a rope, bathes or cleans the hull."),
    Hazard("H-02", "thrust lost in a fairway", _S.GRAVE, _E.TRIP,
           "Traffic, a lee shore, a canal lock, a stream: minutes to hours on each passage in confined water."),
    Hazard("H-03", "engine stalled by its generator", _S.GRAVE, _E.TRIP,
           "Charging under way takes more than the engine has to spare: way and steerage are lost with it."),
    Hazard("H-04", "load dump: a source still feeds when the bank's contactor opens", _S.GRAVE, _E.SELDOM,
           "The bank monitor protects its cells; the voltage of the bus bar then follows the source."),
    Hazard("H-05", "bank overcharged", _S.GRAVE, _E.TRIP, "The end of each charging run."),
    Hazard("H-06", "bank deeply discharged", _S.GRAVE, _E.SEASON,
           "A long passage; cells harmed by it may burn when they are charged again."),
    Hazard("H-07", "cold bank charged (or a hot one)", _S.GRAVE, _E.SEASON,
           "A winter morning: lithium plates out, and an internal short comes later."),
    Hazard("H-08", "belt or coupling shocked", _S.DAMAGE, _E.TRIP, "Each change of thrust."),
    Hazard("H-09", "torque against the shaft lock", _S.DAMAGE, _E.TRIP, "A departure with the lock forgotten."),
    Hazard("H-10", "propeller turns while charging at rest", _S.DEATH, _E.TRIP,
           "Charging in harbour, with people and boats alongside."),
    Hazard("H-11", "runaway after loss of a signal", _S.DEATH, _E.TRIP, "Any time under thrust."),
    Hazard("H-12", "drive enabled and idle", _S.DEATH, _E.TRIP, "The crew goes below or ashore and forgets it."),
    Hazard("H-13", "uncontrolled rectification by an electric machine turned fast", _S.GRAVE, _E.TRIP,
           "The engine at full speed, or fast sailing with the propeller turning."),
    Hazard("H-14", "generating torque through an engine stall turns the engine backwards", _S.DAMAGE, _E.TRIP,
           "Charging near idle."),
    Hazard("H-15", "shaft turns with the shore cable in", _S.DEATH, _E.TRIP,
           "A departure with the cable forgotten: it is torn out under voltage, beside or into the water."),
    Hazard("H-16", "reset or return of a permissive into motion", _S.DEATH, _E.SEASON,
           "After a trip people are at the faulty part."),
    Hazard("H-17", "two control positions at once", _S.GRAVE, _E.TRIP, "Each manoeuvre with the handset."),
    Hazard("H-18", "clutch closed at speed", _S.DAMAGE, _E.TRIP, "Each time the clutch is used."),
    Hazard("H-19", "restart after crash or power loss into motion", _S.DEATH, _E.SEASON, "Any loss of supply."),
    Hazard("H-20", "bus lost, frames corrupt, late or from the wrong sender", _S.DEATH, _E.STANDING,
           "Plugs work loose, cables chafe, a second sender is plugged in: at the jetty and at sea."),
    Hazard("H-21", "drive connected to the bank without precharge", _S.GRAVE, _E.TRIP, "Each switching on."),
    Hazard("H-22", "drive keeps torque on against orders", _S.DEATH, _E.SELDOM, "A fault of the drive itself."),
    Hazard("H-23", "gearbox trailed without lubrication under sail", _S.DAMAGE, _E.SEASON,
           "Each passage with harvest."),
    Hazard("H-24", "engine started into gear or against drive torque", _S.INJURY, _E.TRIP,
           "Each engine start. With its contacts silent the program does not know the gear, and permits the start.",
           "Installer: the gearbox's own neutral switch and the diver key in series in the start circuit, never "
           "bypassed."),
    Hazard("H-25", "crew not told in time", _S.GRAVE, _E.SEASON, "A limit is met by surprise, in the wrong place."),
    Hazard("H-26", "one shaft's fault stops the other shaft", _S.GRAVE, _E.SEASON,
           "Twin-shaft boats, any fault of one shaft."),
    Hazard("H-27", "rope round the propeller, or a jammed one", _S.DEATH, _E.SEASON,
           "Torque acts on a shaft that does not turn; when the rope is cut the shaft jumps, with a hand beside it. "
           "Windings and inverter overheat meanwhile. The program sees a jam only from `limits.jam_from_pct` of the "
           "rated torque on: it reduces torque after `limits.jam_s`, and the shaft goes to ISOLATED after twice that "
           "time. Below that torque it sees nothing: torque stays as ordered until a temperature or the drive's own "
           "fault flag takes it back.",
           "Skipper: lever to neutral, off, diver key out and kept by the diver, drives isolated by their main "
           "switches and engines stopped before anybody reaches for the propeller. Installer: the drive's own "
           "protection against a stalled rotor, set and tried; a breaker or fuse that bears the stall current no "
           "longer than cables and windings do.",
           (HEAT,)),
    Hazard("H-28", "fire at cables, connections, drive, charger or bank", _S.GRAVE, _E.STANDING,
           "A loose terminal, a chafed cable, a failed cell; most of it while nobody is looking. The program has no "
           "detector and puts nothing out; it only takes torque and charging away on the bank monitor's fault flag, "
           "the "
           "emergency stop and the temperatures it is given.",
           "Installer: a fuse at each source close to its terminal, cables by current and temperature, terminals "
           "torqued and looked at again, the bank's space vented, detected and extinguished as local codes and the "
           "cell maker ask, a main switch that is reached from outside the space; a detector's contact as an "
           "`[[interlock]]`. Crew: an exercise.",
           (HEAT, OWN)),
    Hazard("H-29", "hydrogen of a lead starter battery", _S.DEATH, _E.TRIP,
           "A lead battery gases at the end of each charge; a spark beside it bursts it. The program neither charges "
           "starter batteries nor knows that there are any.",
           "Installer: starter batteries in a box vented outboard and upward, no contactor, fuse, charger or relay "
           "that sparks in the same space, a charger between the banks with the right curve. Everybody: goggles, the "
           "negative terminal off first and on last."),
    Hazard("H-30", "DC arc, and work on a link that is still charged", _S.DEATH, _E.SEASON,
           "A direct-current arc does not go out by itself; a bank cannot be switched off at its cells; the "
           "capacitors of a drive keep their charge after its contactor has opened. At 48 V it is mostly the arc and "
           "the metal that burn; above some 60 V the shock comes on top.",
           "Licensed practitioner only: isolate, lock off and tag, wait the maker's discharge time, measure at the "
           "terminals, cover what stays under voltage, insulated tools, no ring on the finger. Installer: "
           "contactors and fuses "
           "rated to break this bank's direct current; covers that need a tool."),
    Hazard("H-31", "flooding of the space of bank or drive", _S.GRAVE, _E.SELDOM,
           "Water reaches terminals: shorts, gas, a bank on fire, a bilge pump without supply.",
           "Installer: bank and drives above the highest water that a bilge alarm lets come, an alarm and a pump on a "
           "supply of their own, high terminals, a main switch that stays dry; the bilge contact as an "
           "`[[interlock]]` that stops charging. Skipper: isolate before the water reaches them.",
           (OWN,)),
    Hazard("H-32", "stray current: fittings and shaft eaten, or a shock in the water", _S.DEATH, _E.STANDING,
           "A leak from a live conductor to hull, shaft or sea: direct current eats metal within days or weeks, a "
           "fault to the shore supply's earth can kill a swimmer. The program measures no leakage.",
           "Installer: an insulated or single-point earthed DC system as local codes ask, an insulation monitor with "
           "an alarm, machine and shaft insulated or bonded as their makers ask, shore supply through a galvanic "
           "isolator or an isolating transformer and a residual-current device; measured at commissioning and each "
           "season. Nobody swims at a berth with shore supplies.",
           (OWN,)),
    Hazard("H-33", "interference of inverter, radio or a lightning stroke with sensors and buses", _S.DEATH,
           _E.STANDING,
           "A disturbed frame is refused; a disturbed sensor says something plausible in a valid frame, and nobody "
           "can tell.",
           "Installer: the drive maker's screened cables and their earthing, signal cables away from power cables, "
           "buses terminated, contacts rather than potentiometers wherever there is a choice; then a trial at full "
           "power with every radio sending, with the counters of refused frames looked at before and after.",
           (LOSS,)),
    Hazard("H-34", "control supply lost or dipping", _S.GRAVE, _E.TRIP,
           "The crank of an engine pulls the supply down; boxes start again one after the other. Thrust ends; "
           "after a restart of the supervisor it needs ENABLE and levers in neutral again.",
           "Installer: a supply of the controls that bears the crank, fused apart from the starter, its voltage "
           "alarmed; enable outputs, clutch and lock valves that fall to the safe side without supply. Tried under "
           "thrust, moored: pull the fuse of each box."),
    Hazard("H-35", "wrong boat file on the boat", _S.DEATH, _E.SELDOM,
           "Limits of another bank, a lever of the other sign, an input from the wrong box. `thwart check` compares "
           "the file with itself and the ratings typed into it; nothing compares it with the boat.",
           "Installer: one file a boat, its fingerprint noted in the hand-over and compared with the first line of "
           "the journal; each input moved by hand and seen on the screen, each sign tried at low power, moored.",
           (CHECK, FINGERPRINT)),
    Hazard("H-36", "program updated, or another machine put in", _S.DEATH, _E.SEASON,
           "Rules, defaults or the operating system are others than those that were proven and tried.",
           "Installer: moored and switched off; `check`, `prove` and the bench procedures again on the new program, a "
           "trial like the first one, the version noted; the old one kept to go back to. No update by itself.",
           (CHECK, PROVE, VERSION)),
    Hazard("H-37", "remote access to the boat's machines", _S.DEATH, _E.STANDING,
           "Whoever gets onto the supervisor's computer, or onto the private bus through a gateway, can order torque. "
           "The guard of the frames finds faults, not enemies.",
           "Installer: no gateway that writes to the private bus; the supervisor's computer without radio, without "
           "remote login, behind a firewall that lets nothing in; sockets and boxes locked. Owner: no remote work on a "
           "boat whose drives are not isolated."),
    Hazard("H-38", "second helm", _S.GRAVE, _E.TRIP,
           "The program knows one lever a shaft and one handset. Two lever heads wired to one input are one lever "
           "that jumps.",
           "Installer: a station selector before the bus that hands over in neutral only and shows who has it; or one "
           "lever head only. Never two heads in parallel on one message."),
    Hazard("H-39", "hands in the machinery of a shaft that can turn", _S.DEATH, _E.SEASON,
           "A belt is changed, a coupling is looked at, an engine is serviced, and the drive, the engine or the "
           "stream turns the shaft. \"Out of service\" at the lever and STANDBY are orders to a program, no "
           "electrical isolation; nor is the mode ISOLATED.",
           "Whoever works: engines stopped with their keys out, drives isolated, locked off and tagged, shaft locked "
           "or the boat held. Installer: guards round belts and couplings that need a tool; the diver key within "
           "reach."),
    Hazard("H-40", "shaft turned by a tow, the tide or the other shaft's wash", _S.DEATH, _E.TRIP,
           "A freewheeling propeller turns gearbox and machine with everything switched off: hands beside it, a "
           "gearbox without oil, a machine that makes voltage at its terminals.",
           "Skipper: shaft locked before a tow and before work, gear as the gearbox maker asks. Installer: the speed "
           "under tow and sail reckoned with in `max_speed_rpm`; the drive isolated means its machine side too.",
           (CHECK, OVERSPEED)),
    Hazard("H-41", "children or guests at levers, switches and handset", _S.DEATH, _E.TRIP,
           "A lever is pushed, a button is pressed, because it is there. Whoever presses the right ones in the right "
           "order gets thrust: the program does not know who it is.",
           "Skipper: controls switched off by key when nobody stands at them, the handset locked away. Installer: "
           "that key switch; guards where a child's hand reaches a belt or a terminal."),
    Hazard("H-42", "a laptop's `stand-in`, `bench --live` or `replay --onto` left on the boat's bus", _S.DEATH,
           _E.SEASON,
           "These send guarded frames that are as good as the real ones: a lever, a neutral contact, a bank that are "
           "not there, and with a replay the recorded orders and enables for the drives, with or without a "
           "supervisor. Two senders of one guarded message at about the same rate are detected by their counters "
           "within eight of its periods (simulated), and neither is used; two in step that say the same give a line "
           "on the screen, "
           "and count as two with the first frame in which they differ. One that sends less often than the message's "
           "`stale_s` is not detected. What the "
           "supervisor itself should send, heard from elsewhere, trips the boat. An open message is "
           "used from both unless the boat file names its `source`. None of this stops somebody who means harm.",
           "Whoever tests: on a bench bus, or with drives and starters isolated and locked off; adapter unplugged and "
           "counted before the isolation is taken off; never alone. Installer: no spare socket of the private bus in "
           "reach; the emergency stop and the diver key cut the enables by wire, whatever is on the bus.",
           (LISTEN,)),
    Hazard("H-43", "boat that cannot stop: no thrust astern, or too late", _S.GRAVE, _E.TRIP,
           "A full, cold or unwilling bank takes no current, and torque against a turning shaft is current into the "
           "bank; each berth, canal lock and crash stop.",
           "Skipper: before each berth or canal lock, look for the alarm that electric astern is short, and use the "
           "engine "
           "then. A shaft that does not turn goes astern from the bank as it goes ahead."),
    Hazard("H-44", "belt or coupling broken or slipping, and nobody sees it", _S.GRAVE, _E.SEASON,
           "The free electric machine runs up to its limit while the boat drifts; a slipping belt burns."),
    Hazard("H-45", "propeller jammed by rope or log", _S.DAMAGE, _E.SEASON,
           "Full torque on a shaft that does not turn heats the machine and strains what it hangs on; a diver "
           "follows."),
    Hazard("H-46", "shaft that cannot be stopped and locked under sail", _S.DAMAGE, _E.TRIP,
           "A freewheeling propeller wears gearbox and bearings, costs speed, and must be locked on some boats; a lock "
           "that is forced onto a turning shaft breaks, and what holds a shaft could turn it."),
)  # fmt: skip
