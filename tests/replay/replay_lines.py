"""Lines of NMEA 2000 traffic written by hand, for the tests of replay."""


def battery_line(time_s: float, volts: float, amps: float, channel: str = "can0", instance: int = 0) -> str:
    """PGN 127508 from address 9, by hand: instance, 0.01 V, 0.1 A, 301.96 K, sequence."""
    data = bytes([instance]) + round(volts * 100).to_bytes(2, "little", signed=True)
    data += round(amps * 10).to_bytes(2, "little", signed=True) + bytes.fromhex("F475F4")
    return f"({time_s:.6f}) {channel} 19F21409#{data.hex().upper()}"


def soc_lines(time_s: float, soc_pct: int, channel: str = "can0", sequence: int = 0) -> list[str]:
    """PGN 127506 from address 9 as the fast packet of 11 bytes, two frames; layout as in docs/bus.md."""
    data = bytes([0xFF, 0, 0xFF, soc_pct]) + b"\xff" * 7
    first = bytes([sequence << 5, 11]) + data[:6]
    second = bytes([sequence << 5 | 1]) + data[6:] + b"\xff\xff"
    return [f"({time_s + k * 0.0006:.6f}) {channel} 19F21209#{part.hex().upper()}"
            for k, part in enumerate((first, second))]  # fmt: skip
