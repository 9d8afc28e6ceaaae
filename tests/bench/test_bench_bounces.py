"""Under way a contact jumps for a moment, on the simulated boats: either nothing stops for good, or it is told."""

import pytest
from test_bench_under_way import sailing

from sim.rig.simulated import SimRig

EVERY = ("helm.shore_connected", "helm.diver_lockout", "{}.gearbox.neutral", "{}.engine.running",
         "{}.shaft.out_of_service")  # fmt: skip
FITTED = {
    "marsh_tern": (*EVERY, "{}.lock.released", "{}.lock.engaged", "{}.clutch.closed", "{}.clutch.open"),
    "reed_warbler": EVERY,
}
STOPS = ("helm.diver_lockout", "{}.shaft.out_of_service")
"""What may end thrust at once, for good: a diver, and the crew's own selector. It has to be told."""


def told(rig: SimRig, name: str) -> bool:
    return f"{name} was stopped" in str(rig.signals()["boat.alarms"])


@pytest.mark.sr("SR-62", "SR-53", "SR-11")
@pytest.mark.parametrize(("boat", "contact"), [(boat, one) for boat, fitted in FITTED.items() for one in fitted])
def test_a_jump_of_a_tenth_of_a_second(boat: str, contact: str) -> None:
    rig = sailing(boat)
    try:
        first = rig.shafts[0]
        rig.inject("contact_bounces", contact.format(first), away_s=0.1, every_s=600.0)
        rig.run(2.0)
        seen = rig.signals()
        hit = rig.shafts if contact.startswith("helm.") else (first,)
        for name in rig.shafts:
            if contact in STOPS and name in hit:
                assert seen[f"{name}.mode"] == "REST"
                assert told(rig, name)
                assert seen["boat.sounder"] == 1
                causes = [one.text for one in rig.events if one.kind == "alarm" and one.subject == name]
                assert causes[-1].startswith("thrust was stopped: ")
            else:
                assert seen[f"{name}.mode"] == "PROPEL", rig.explain(f"{name} PROPEL")
                assert float(seen[f"{name}.torque_nm"]) > 10.0
                assert not told(rig, name)
    finally:
        rig.close()


@pytest.mark.sr("SR-62")
@pytest.mark.parametrize(("boat", "contacts"), [
    ("marsh_tern", ("port.clutch.closed",)), ("marsh_tern", ("port.gearbox.neutral", "port.engine.running")),
    ("reed_warbler", ("main.gearbox.neutral", "main.engine.running")),
])  # fmt: skip
def test_jumps_every_third_of_a_second_spare_belt_and_bank_and_end_in_an_alarm(
    boat: str, contacts: tuple[str, ...]
) -> None:
    """Three times to zero, never up beyond the slew, then a stop that is told; neutral brings thrust back."""
    rig = sailing(boat)
    try:
        name = rig.shafts[0]
        lim = rig.supervisor.controller.boat.shafts[0]
        for contact in contacts:
            rig.inject("contact_bounces", contact, away_s=0.1, every_s=0.3)
        last = float(rig.signals()[f"{name}.order_nm"])
        zeros = 0
        for _ in range(150):
            rig.step()
            now = float(rig.signals()[f"{name}.order_nm"])
            assert abs(now) <= abs(last) + lim.torque_slew_nm_per_s * 0.02 + 1e-6
            zeros += now == 0.0 and last != 0.0
            last = now
        assert zeros == 3
        assert rig.signals()[f"{name}.mode"] == "REST"
        assert told(rig, name)
        for contact in contacts:
            rig.clear("contact_bounces", contact)
        rig.act(f"{name}.lever_pct", 0.0)
        rig.run(0.7)
        rig.act(f"{name}.lever_pct", 60.0)
        rig.run(1.5)
        assert float(rig.signals()[f"{name}.torque_nm"]) > 10.0
    finally:
        rig.close()


@pytest.mark.sr("SR-47")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_a_strangers_frame_with_the_banks_instance_stops_no_shaft(boat: str) -> None:
    """A starter battery's monitor set to the bank's instance: 27 V while the bank's own box speaks as well."""
    rig = sailing(boat)
    try:
        codec = rig.supervisor.boat_map.messages["private"]["DC_SOURCE_STATUS_1"]
        identifier = codec.arbitration_id & ~0xFF | 0x63
        for _ in range(40):
            data = codec.encode({"Instance": 1, "Voltage": 27.0})
            rig.supervisor.table.feed("private", identifier, True, data, rig.now_s)
            rig.run(0.1)
        for name in rig.shafts:
            assert rig.signals()[f"{name}.mode"] == "PROPEL", rig.explain(f"{name} PROPEL")
    finally:
        rig.close()


@pytest.mark.sr("SR-27", "SR-24")
def test_a_handset_let_go_and_pressed_again_within_a_fifth_of_a_second() -> None:
    """Letting go is the handset's own neutral: zero at once; pressed again with thrust selected it moves nothing."""
    rig = SimRig("marsh_tern", soc_pct=70.0)
    try:
        rig.run(2.0)
        rig.act("helm.enable", "press")
        rig.run(2.5)
        rig.act("handset.held", True)
        rig.run(0.5)
        rig.act("handset.thrust_pct", 60.0)
        rig.run(2.0)
        name = rig.shafts[0]
        assert float(rig.signals()[f"{name}.torque_nm"]) > 1.0
        rig.act("handset.held", False)
        rig.run(0.16)
        rig.act("handset.held", True)
        rig.run(2.0)
        assert all(float(rig.signals()[f"{one}.order_nm"]) == 0.0 for one in rig.shafts)
        rig.act("handset.thrust_pct", 0.0)
        rig.act("handset.held", False)
        rig.run(0.7)
        rig.act("handset.held", True)
        rig.run(0.5)
        rig.act("handset.thrust_pct", 60.0)
        rig.run(1.5)
        assert float(rig.signals()[f"{name}.torque_nm"]) > 1.0
    finally:
        rig.close()
