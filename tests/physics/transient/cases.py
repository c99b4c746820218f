"""A treatment from chamber to release that several tests share."""

from bench.physics.transient import Air, ClosedChamber, Inputs, Open, Phase, Platen, SolidBase
from bench.stack import Role, build_item_stack, build_layer, insert_interleaves
from bench.units import Q_
from tests.makers import annual, annual_readings

ROOM = Air(Q_(22, "degC"), Q_(50, "percent"))
DAMP = Air(Q_(22, "degC"), Q_(98, "percent"))
CLOSED = ClosedChamber(Q_(30, "liter"), Q_(98, "percent"), Q_(0.1, "m^2"), leak=Q_(0.1, "1/hour"))
PRESSED = Q_(4, "kPa")
EXACT = Inputs(hysteresis=Q_(0.0, ""))


def stack():
    """The closed annual of 36 leaves."""
    return build_item_stack(annual(), annual_readings())


def page():
    item = annual()
    return item.width, item.height


def pressed_stack():
    """A sheet after every six leaves, a board on either side, a plate on top."""
    board = build_layer(Role.BOARD, "backing board 24 pt")
    plate = build_layer(Role.PLATE, "aluminium")
    return insert_interleaves(stack(), range(0, 37, 6), "copy paper 24 lb").between([plate, board], [board])


def treatment():
    """Chamber, bench, hot press, cooling, night, fresh sheets, rest."""
    hot = Platen((Q_(22, "degC"), Q_(60, "degC")), (Q_(0, "s"), Q_(120, "s")))
    base = SolidBase()
    fresh = frozenset({Role.INTERLEAF, Role.BOARD})
    return [
        Phase("room", Q_(1, "hour"), ROOM),
        Phase("chamber", Q_(24, "hour"), CLOSED),
        Phase("bench", Q_(10, "minute"), ROOM, bottom=base),
        Phase("hot", Q_(1000, "s"), ROOM, hot, base, PRESSED, stack=pressed_stack()),
        Phase("cooling", Q_(1, "hour"), ROOM, Open(), base, PRESSED),
        Phase("night", Q_(14, "hour"), ROOM, Open(), base, PRESSED),
        Phase("second night", Q_(24, "hour"), ROOM, Open(), base, PRESSED, pressed_stack(), renew=fresh),
        Phase("rest", Q_(48, "hour"), ROOM, bottom=base, stack=stack()),
    ]
