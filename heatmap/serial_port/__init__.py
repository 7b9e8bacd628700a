"""Readings from a serial or USB port: port → bytes → lines → readings.

>>> from heatmap.serial_port import Intake, SerialPort, line_parser
>>> intake = Intake(line_parser(grill))  # doctest: +SKIP
>>> with SerialPort("/dev/ttyUSB0") as port:  # doctest: +SKIP
...     items = intake.feed(port.read())
"""

from heatmap.serial_port.intake import Intake, Settler
from heatmap.serial_port.lines import Rejected
from heatmap.serial_port.parse import PortItem, line_parser
from heatmap.serial_port.port import Chunk, PortInfo, SerialPort, list_ports

__all__ = ["Chunk", "Intake", "PortInfo", "PortItem", "Rejected", "SerialPort", "Settler", "line_parser", "list_ports"]
