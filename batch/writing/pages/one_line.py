"""The one-line diagram of a farm's service, as symbols and lines for the template to draw.

From the tap down to the motors: what stands there, how it is rated, and how long and of what the
conductors between are. Unknown lengths and ratings are said to be unknown.
"""

from dataclasses import dataclass, replace

from batch.columns.candidates import AT_DRIVE, ROTARY, SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.columns.results import FAULT_COMPUTED
from batch.writing.pages.figures import shown

SYMBOL_X, STEP, HEAD, PIVOT_X, BRANCH = 70, 62, 26, 230, 78
SHAPES = ("tap", "transformer", "meter", "device", "filter", "box", "starter", "motor", "pivot")
BARE, NO_FILTER = "bare drive", "none"
ACROSS = "across the line"


@dataclass(frozen=True)
class Part:
    """A symbol at a place, its words, and the words on the line that leads to it."""

    shape: str
    words: tuple[str, ...]
    line: tuple[str, ...] = ()
    x: int = SYMBOL_X
    y: int = 0


def one_line(text, candidate) -> dict:
    """The diagram of one farm: `text` has its results in canonical text, `candidate` its inputs."""
    chain = _chain(text, candidate)
    parts = [Part(p.shape, p.words, p.line, SYMBOL_X, HEAD + STEP * k)
             for k, p in enumerate(chain)]
    fork = parts[-1].y + STEP // 2
    motors = _motors(text, candidate)
    bottom = fork + BRANCH
    ends = [Part(p.shape, p.words, p.line, x, bottom)
            for p, x in zip(motors, (SYMBOL_X, PIVOT_X))]
    told = "; ".join(", ".join((*p.line, *p.words)) for p in (*parts, *ends))
    return {"parts": parts, "ends": ends, "fork": fork, "height": bottom + 62, "told": told + ".",
            "title": f"One-line diagram: {text['supply_option']}"}


def _chain(text, candidate):
    """Everything between the tap and the motors, source first."""
    option = text["supply_option"]
    phases = "three-phase" if option == THREE_PHASE_LINE else "single-phase"
    return [
        Part("tap", (f"Tap on feeder {text['feeder_id'] or 'not named'}",
                     f"{_number(candidate['primary_kv'])} kV to ground, fault current "
                     f"{_number(candidate['source_fault_a'], ' A')}")),
        Part("transformer", (_transformer(text, option), f"Fault current {_at_most(text)}"
                             f"{_canonical(text['fault_current_a'], ' A')} at its terminals"),
             (f"{_canonical(text['paid_line_ft'], ' ft')} of new {phases} line",
              f"{candidate['line_build']}")),
        Part("meter", ("Meter",)),
        *_service(text, candidate, _supply(text, option))]


def _service(text, candidate, supply):
    """Disconnect and supply; the service's run lies ahead of the disconnect or behind it."""
    run = (f"{_number(candidate['service_distance_ft'], ' ft')} of "
           f"{text['service_conductor'] or 'unknown conductor'}",
           text["grounding_conductor"] or "grounding unknown")
    device = Part("device", (f"Disconnect, {_canonical(text['disconnect_a'], ' A')}",
                             f"Device, {_canonical(text['protective_device_a'], ' A')}"))
    if candidate["disconnect_at"] == AT_DRIVE:
        return [replace(device, line=run), *supply]
    return [device, replace(supply[0], line=run), *supply[1:]]


def _transformer(text, option):
    kva = _canonical(text["transformer_kva"], " kVA")
    return f"Bank of three, {kva}" if option == THREE_PHASE_LINE else f"Transformer, {kva}"


def _at_most(text):
    return "" if text["fault_standing"] in ("", FAULT_COMPUTED) else "at most "


def _supply(text, option):
    """What makes or starts the three phases."""
    rating = _canonical(text["drive_rated_hp"], " hp")
    if option == SINGLE_PHASE_DRIVE:
        front = [] if text["variant"] == BARE else [Part("filter", (text["variant"].capitalize(),))]
        drive = Part("box", (f"Drive, {rating}",
                             f"{_canonical(text['drive_site_a'], ' A')} on single-phase input"))
        filter_name = text["lead_filter"]
        behind = [] if filter_name in ("", NO_FILTER) else [
            Part("filter", (f"Output: {filter_name}",))]
        return [*front, drive, *behind]
    starter = Part("device" if text["variant"] == ACROSS else "starter",
                   ("Starter across the line" if text["variant"] == ACROSS
                    else text["variant"].capitalize(),))
    if option == ROTARY:
        return [Part("box", (f"Rotary converter, {rating}",)), starter]
    return [starter]


def _motors(text, candidate):
    """The pump motor, and the pivot where there is one."""
    pump = Part("motor", (f"Pump, {_canonical(text['pump_motor_hp'], ' hp')}",
                          f"{_canonical(text['motor_table_a'], ' A')}"),
                _lead(text, candidate, "motor_lead"))
    if not candidate["pivot_length_ft"] > 0:
        return [pump]
    towers = f"{_canonical(text['tower_count_used'], ' towers')}"
    booster = candidate["booster_hp"]
    return [pump, Part("pivot", (f"Pivot, {towers}", f"booster {booster:g} hp" if booster else
                                 f"{_canonical(text['towers_a'], ' A')}"),
                       _lead(text, candidate, "pivot_lead"))]


def _lead(text, candidate, key):
    """How long a lead is and of what; of one that exists, of what at least."""
    length = (f"{_canonical(text[f'{key}_used_ft'], ' ft')}"
              f"{', assumed' if candidate[f'{key}_ft'] != candidate[f'{key}_ft'] else ''}")
    conductor = text[f"{key}_conductor"] or "unknown conductor"
    exists = candidate[f"has_{key}"] == 1
    return (f"{length}, exists" if exists else length,
            f"at least {conductor}" if exists else conductor)


def _canonical(text, unit=""):
    return (shown(text).rstrip("0").rstrip(".") if "." in text else shown(text)) + unit if (
        text) else "unknown"


def _number(value, unit=""):
    return f"{value:,g}{unit}" if value == value and value is not None else "unknown"
