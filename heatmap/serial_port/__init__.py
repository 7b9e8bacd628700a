"""Readings from a serial or USB port: port → bytes → lines → readings.

>>> from heatmap.serial_port import Intake, SerialPort, line_parser
>>> intake = Intake(line_parser(grill))  # doctest: +SKIP
>>> with SerialPort("/dev/ttyUSB0") as port:  # doctest: +SKIP
...     items = intake.feed(port.read())
"""

from heatmap.serial_port.intake import Intake
from heatmap.serial_port.lines import Rejected
from heatmap.serial_port.parse import PortItem, line_parser
from heatmap.serial_port.port import Chunk, SerialPort
from heatmap.serial_port.ports import PortInfo, list_ports
from heatmap.serial_port.settle import Settler

__all__ = [
    "Chunk",
    "Intake",
    "PortInfo",
    "PortItem",
    "Rejected",
    "SerialPort",
    "Settler",
    "line_parser",
    "list_ports",
]
