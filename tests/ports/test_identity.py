"""The name in a bench file finds the right port, or says why not."""

from types import SimpleNamespace

import pytest

from logger.model.errors import InputError
from logger.ports.errors import NoSuchPortError
from logger.ports.identity import name_of, resolve


def adapter(device: str, **more: object) -> SimpleNamespace:
    usual = {
        "description": "adapter", "vid": 0x0403, "pid": 0x6001, "serial_number": None,
        "location": None, "interface": None,
    }  # fmt: skip
    return SimpleNamespace(device=device, **(usual | more))


A = adapter("/dev/ttyUSB0", serial_number="A9", location="1-1.1")
B = adapter("/dev/ttyUSB1", serial_number="B7", location="1-1.2")
CHEAP = adapter("/dev/ttyUSB2", vid=0x1A86, pid=0x7523, location="1-1.3")
BUILT_IN = adapter("/dev/ttyS0", vid=None, pid=None)


def there() -> list[SimpleNamespace]:
    return [A, B, CHEAP, BUILT_IN]


@pytest.mark.parametrize(
    ("port", "device"),
    [
        ("usb:vid=0403,pid=6001,serial=B7", "/dev/ttyUSB1"),
        ("usb:vid=1A86, pid=7523", "/dev/ttyUSB2"),
        ("usb:location=1-1.1", "/dev/ttyUSB0"),
        ("/dev/serial/by-id/scale", "/dev/serial/by-id/scale"),
        ("socket://10.0.0.7:4001", "socket://10.0.0.7:4001"),
        ("rfc2217://10.0.0.7:2217", "rfc2217://10.0.0.7:2217"),
    ],
)
def test_names_find_their_port(port, device):
    assert resolve(port, there).device == device


def test_an_adapter_is_found_wherever_it_is_plugged_in():
    moved = adapter("/dev/ttyUSB7", serial_number="A9", location="2-3")
    assert resolve(name_of(A), lambda: [moved, B]).device == "/dev/ttyUSB7"


def test_two_adapters_alike_are_not_guessed_between():
    with pytest.raises(InputError, match=r"location=1-1\.2"):
        resolve("usb:vid=0403,pid=6001", there)


def test_what_is_not_there_is_said_with_what_is():
    with pytest.raises(NoSuchPortError, match="serial=A9"):
        resolve("usb:vid=dead,pid=beef", there)


@pytest.mark.parametrize(
    "port", ["usb:", "usb:vid", "usb:vid=04x3", "usb:colour=red", "usb:vid=1,vid=2"]
)
def test_a_name_that_does_not_read_is_refused(port):
    with pytest.raises(InputError, match="port"):
        resolve(port, there)


@pytest.mark.parametrize(
    ("listed", "name"),
    [
        (A, "usb:vid=0403,pid=6001,serial=A9"),
        (CHEAP, "usb:location=1-1.3"),
        (BUILT_IN, "/dev/ttyS0"),
    ],
)
def test_the_name_proposed_finds_the_port_again(listed, name):
    assert name_of(listed) == name
    assert resolve(name, there).device == listed.device
