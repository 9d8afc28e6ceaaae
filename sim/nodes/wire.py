"""The buses between nodes and supervisor: python-can virtual buses, with an adapter that can fail.

Every frame really crosses python-can's virtual bus. The supervisor's end is an `Adapter`, which misbehaves as told by
its `Ailment`; the nodes share one bus object at the other end, the *tap*.
"""

from collections.abc import Iterable, Mapping
from uuid import uuid4

import can
from can.interfaces.virtual import VirtualBus

from supervisor.bus import BusSetting


class Ailment:
    """What is wrong with the supervisor's adapter on one bus. All False: nothing."""

    def __init__(self) -> None:
        self.unplugged = False
        self.bus_off = False
        self.overflow = False

    @property
    def any(self) -> bool:
        """Whether anything is wrong."""
        return self.unplugged or self.bus_off or self.overflow


class Adapter(VirtualBus):
    """A virtual CAN adapter that can be unplugged, go bus-off, or lose frames in its receive buffer.

    Unplugged: every call raises CanOperationError. Bus-off: nothing passes
    either way and `state` says ERROR. Overflow: every second frame is lost, and an error frame says so.
    """

    def __init__(self, channel: str, ailment: Ailment) -> None:
        super().__init__(channel=channel)
        self._ailment = ailment
        self._odd = False

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        ailment = self._ailment
        if not ailment.any:
            return super()._recv_internal(timeout)
        if ailment.unplugged:
            raise can.CanOperationError("the adapter is gone")
        message, filtered = super()._recv_internal(timeout)
        if ailment.bus_off:
            while message is not None:
                message, filtered = super()._recv_internal(timeout)
            return None, filtered
        if message is not None:
            self._odd = not self._odd
            if self._odd:
                # Linux error frame: controller problem (0x04), receive buffer overflowed (data 1, bit 0)
                lost = can.Message(is_error_frame=True, arbitration_id=0x04, dlc=8, data=[0, 1, 0, 0, 0, 0, 0, 0])
                return lost, filtered
        return message, filtered

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        """Send, unless something is wrong."""
        if self._ailment.unplugged:
            raise can.CanOperationError("the adapter is gone")
        if self._ailment.bus_off:
            raise can.CanOperationError("the controller is bus-off")
        super().send(msg, timeout)

    @property
    def state(self) -> can.BusState:
        """ERROR while bus-off."""
        return can.BusState.ERROR if self._ailment.bus_off else can.BusState.ACTIVE

    @state.setter
    def state(self, new_state: can.BusState) -> None:
        raise NotImplementedError("the state of this adapter is not set from outside")


class Wires:
    """The buses of one rig. Channel names are unique, so that any number of rigs live in one process."""

    def __init__(self, names: Iterable[str], boat: str) -> None:
        run = uuid4().hex[:12]
        self.channels: Mapping[str, str] = {name: f"{boat}-{name}-{run}" for name in names}
        self.ailments: Mapping[str, Ailment] = {name: Ailment() for name in self.channels}
        self._by_channel = {channel: name for name, channel in self.channels.items()}
        self.taps: Mapping[str, can.BusABC] = {
            name: can.Bus(interface="virtual", channel=channel, ignore_config=True)
            for name, channel in self.channels.items()
        }

    def settings(self) -> dict[str, BusSetting]:
        """How the supervisor's port opens its ends."""
        return {name: BusSetting("virtual", channel, 250000) for name, channel in self.channels.items()}

    def open_adapter(self, interface: str, channel: str, bitrate: int) -> can.BusABC:
        """The opener for the supervisor's port."""
        ailment = self.ailments[self._by_channel[channel]]
        if ailment.unplugged:
            raise can.CanInitializationError("no such adapter: it is unplugged")
        return Adapter(channel, ailment)

    def drain(self, name: str) -> list[can.Message]:
        """What the supervisor sent on one bus since the last call."""
        found = []
        tap = self.taps[name]
        while (message := tap.recv(timeout=0)) is not None:
            found.append(message)
        return found

    def close(self) -> None:
        """Release all taps."""
        for tap in self.taps.values():
            tap.shutdown()
