"""Several devices with registers on one line, as one line format.

Pure. A port is one instrument, so what answers on an RS-485 line under several numbers becomes a
format whose values each name their device.
"""

from collections.abc import Mapping
from typing import Any

import tomli_w

from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import PortLine


def together(devices: Mapping[int, tuple[Shape, tuple[str, ...]]], line: PortLine) -> str:
    """Return the file of a format for several devices.

    Parameters
    ----------
    devices : mapping
        Number of each device, its format, and which of its values count.
    line : PortLine
        The settings at which all of them answer.
    """
    numbers = [str(number) for number in sorted(devices)]
    shapes = [devices[number][0] for number in sorted(devices)]
    channel: dict[str, Any] = {}
    for number in sorted(devices):
        shape, fields = devices[number]
        for name in fields:
            one = shape.channel[name].model_dump(by_alias=True, exclude_defaults=True)
            if "faults" in one:
                one["faults"] = {str(code): word for code, word in one["faults"].items()}
            channel[f"d{number}_{name}"] = one | {"device": number}
    units = [unit for unit in shapes[0].unsaid if all(unit in s.unsaid for s in shapes)]
    table = {
        "says": f"devices {', '.join(numbers)} on one line, in registers",
        "decode": "modbus",
        "transmission": shapes[0].transmission,
        "port": line.model_dump(by_alias=True, exclude_defaults=True),
        "every": max(shape.every_s for shape in shapes),
        "timeout": max(shape.timeout_s for shape in shapes),
        "source": "found by asking",
        "channel": channel,
    }
    named = f"registers of devices {', '.join(numbers)}"
    return tomli_w.dumps({"shape": {named: table | ({"unsaid": units} if units else {})}})
