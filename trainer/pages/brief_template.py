"""Filling a lab's values into a brief: jinja2 in a sandbox, of which little is left.

Rules of this file: an expression reaches the lab's given values and nothing else; of the language only what is listed
here may be used; before anything is repeated, joined or called it is counted, so that no brief takes long or much memory,
also if it shows nothing; whatever a brief does, it ends in a sentence with its line.
"""

import re
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import cache, lru_cache
from itertools import islice
from types import CodeType
from typing import Any

from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, nodes, pass_context
from jinja2.exceptions import SecurityError
from jinja2.filters import FILTERS
from jinja2.runtime import Context, LoopContext, Macro
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.visitor import NodeTransformer

from trainer.errors import TrainerError, did_you_mean
from trainer.lab.scenario import Scenario

__all__ = ["BRIEF_WORDS", "LONGEST", "filled", "refuse_unknown", "unmarked"]

_MARK = "\ue000"
"""A character for private use; what a brief itself holds of it is a blank."""
_MARKED = re.compile(f"{_MARK}([0-9]{{1,7}}){_MARK}")
_ALONE = re.compile(
    r"^[ \t]*(\{%-?[ \t]*(?:(?:for|if|elif|else|endif|set)\b(?:(?!%\}).)*?"
    r"|endfor[ \t]*(?=-?%\}[ \t]*\n[ \t]*\{%)))(-?%\})[ \t]*\n",
    re.MULTILINE,
)
"""A line that only steers, in two parts; the end of a loop only where another such line follows."""
LONGEST = 20_000
"""Characters of a brief with its values; three printed pages have some 9,000."""
_LONGEST_SOURCE = 5 * LONGEST
"""Characters of a brief as it is written, with what it says in other labs only."""
_MOST_WORK = 500_000
"""Steps of filling in: about a second. A brief that goes through all stations of a large lab takes some thousands."""
_CALL = 50
"""Steps of what a macro or a value takes beside what stands in it."""
_SPARE = 100
"""By so much what is weighed may be heavier than the longest text."""
BRIEF_WORDS = {
    "lab": "the lab number",
    "trainee": "the trainee's id",
    "title": "the title of the exercise",
    "date": "the date, or nothing",
    "minutes": "the minutes, or nothing",
    "block": "the block of this lab",
    "lease_hours": "the lease of every pool, in hours",
    "server": "the name of the DHCP server",
    "switches": "the switches: each has .name and .place",
    "networks": "the networks: each has .vlan, .name, .switch and .needed",
    "stations": "the stations: each has .name, .vlan and .port",
}
"""What a brief may speak of: nothing that is asked."""
_PARTS = {
    "switches": ("name", "place"),
    "networks": ("vlan", "name", "switch", "needed"),
    "stations": ("name", "vlan", "port"),
}
"""What each of those lists' members has."""
_FILTERS = (
    *("abs", "capitalize", "count", "d", "default", "first", "int", "join", "last", "length", "list", "lower", "map"),
    *("max", "min", "reject", "rejectattr", "replace", "reverse", "round", "select", "selectattr", "sort", "string"),
    *("sum", "title", "trim", "unique", "upper", "wordcount"),
)
"""Those whose results are hardly larger than what goes in."""
_METHODS = frozenset(
    {
        *("capitalize", "casefold", "count", "endswith", "find", "get", "index", "items", "keys", "lower", "lstrip"),
        *("replace", "rstrip", "split", "splitlines", "startswith", "strip", "swapcase", "title", "upper", "values"),
    }
)
"""Likewise, of texts, lists and tables."""
_STATEMENTS = {
    nodes.Block: "block",
    nodes.Extends: "extends",
    nodes.Include: "include",
    nodes.Import: "import",
    nodes.FromImport: "from",
}
"""What reaches for other files, or repeats what is elsewhere."""


class _TooMuch(Exception):
    """A brief that takes more steps, or holds more at once, than any brief has to."""


class _Sandbox(ImmutableSandboxedEnvironment):
    """Expressions that cannot reach anything, nor make anything big. One for each brief that is filled in."""

    intercepted_binops = frozenset({"+", "*", "**", "%"})

    def __init__(self) -> None:
        super().__init__(
            undefined=StrictUndefined, autoescape=False, keep_trailing_newline=True, finalize=_marked_value
        )
        self.globals.clear()
        self.filters = {name: _watched(name, FILTERS[name]) for name in _FILTERS}
        self.filters |= {"_counted": _counted, "_joined": _joined, "_weighed": _weighed}
        self.work_left = _MOST_WORK
        self.call_costs = 1
        """Steps of the longest macro."""
        self.values: list[str] = []
        """What was filled in, in the order of its marks."""

    def mark(self, value: Any) -> str:
        """A mark in the place of a value, which is kept."""
        told = "" if value is None else unmarked(str(_weigh(self, value)), self.values)
        self.spend(_CALL + len(told) // 20)
        self.values.append(re.sub(r"\s+", " ", told))
        return f"{_MARK}{len(self.values) - 1}{_MARK}"

    def spend(self, steps: int) -> None:
        self.work_left -= steps
        if self.work_left < 0:
            raise _TooMuch

    def call_binop(self, _context: Any, operator: str, left: Any, right: Any) -> Any:
        if operator != "+":
            raise SecurityError(f"{operator} is not for briefs")
        _weigh(self, (left, right))
        return left + right

    def call(self, __context: Context, __obj: Any, *arguments: Any, **named: Any) -> Any:  # noqa: PYI063  # as in jinja2
        name, owner = getattr(__obj, "__name__", ""), getattr(__obj, "__self__", None)
        is_method = isinstance(owner, str | list | tuple | dict) and name in _METHODS
        is_of_loop = isinstance(owner, LoopContext) and name in ("cycle", "changed")
        if not (is_method or is_of_loop or isinstance(__obj, Macro)):
            raise SecurityError(f"{name or type(__obj).__name__}() is not for briefs")
        self.spend(_CALL + self.call_costs)
        _weigh(self, (arguments, named, owner if is_method else ()))
        if name == "replace" and is_method:
            return _replaced(self, owner, *arguments)
        return _weigh(self, super().call(__context, __obj, *arguments, **named))


@pass_context
def _marked_value(context: Context, value: Any) -> str:
    """It takes the context, so that nothing is marked when a brief is compiled, which is done once a class."""
    return _of(context).mark(value)


def _weigh(sandbox: _Sandbox, value: Any) -> Any:
    """The value, if it is no longer than a brief may be; what comes piece by piece is made a list. Raises _TooMuch."""
    if isinstance(value, Iterator) or type(value).__name__ in ("dict_items", "dict_keys", "dict_values"):
        value = list(islice(value, LONGEST + 1))
    weight, waiting = 0, [value]
    while waiting:
        each = waiting.pop()
        weight += 1
        if isinstance(each, str):
            weight += len(each)
        elif isinstance(each, int):
            weight += each.bit_length() // 3
        elif isinstance(each, list | tuple | dict):
            weight += len(each)
            if weight <= LONGEST:
                waiting.extend([*each, *each.values()] if isinstance(each, dict) else each)
        if weight > LONGEST + _SPARE:
            raise _TooMuch
    sandbox.spend(weight // 20 + 1)
    return value


def _replaced(sandbox: _Sandbox, text: Any, old: Any, new: Any, count: Any = None) -> str:
    text, old, new = str(text), str(old), str(new)
    found = text.count(old) if count is None else min(text.count(old), int(count))
    _weigh(sandbox, text)
    if len(text) + found * len(new) > 2 * LONGEST:
        raise _TooMuch
    return str(_weigh(sandbox, text.replace(old, new, -1 if count is None else int(count))))


def _watched(name: str, plain: Callable[..., Any]) -> Callable[..., Any]:
    """A filter of the template language that weighs what goes in and what comes out."""
    wants = getattr(getattr(plain, "jinja_pass_arg", None), "name", "")

    @pass_context
    def watched(context: Context, value: Any, *arguments: Any, **named: Any) -> Any:
        sandbox = context.environment
        assert isinstance(sandbox, _Sandbox)
        value = _weigh(sandbox, value)
        _weigh(sandbox, (arguments, named))
        if name == "replace":
            return _replaced(sandbox, value, *arguments, **named)
        if name == "join":  # the one whose result may be its two arguments multiplied
            _weigh(sandbox, [str(each) for each in arguments] * len(list(value)))
        first = {"context": (context,), "eval_context": (context.eval_ctx,), "environment": (sandbox,)}
        return _weigh(sandbox, plain(*first.get(wants, ()), value, *arguments, **named))

    return watched


@pass_context
def _weighed(context: Context, value: Any) -> Any:
    return _weigh(_of(context), value)


@pass_context
def _joined(context: Context, values: Sequence[Any]) -> str:
    return "".join(map(str, _weigh(_of(context), values)))


@pass_context
def _counted(context: Context, values: Iterable[Any], steps: int) -> Sequence[Any]:
    """What a loop goes through, once its steps are paid for."""
    listed = list(islice(values, LONGEST + 1))
    _of(context).spend((len(listed) + 1) * steps)
    return listed


def _of(context: Context) -> _Sandbox:
    assert isinstance(context.environment, _Sandbox)
    return context.environment


class _Counting(NodeTransformer):
    """Puts a count before everything that repeats, and a weight on everything that grows."""

    def visit(self, node: nodes.Node, *arguments: Any, **named: Any) -> Any:
        steps = sum(1 for _ in node.find_all(nodes.Node))
        self.generic_visit(node, *arguments, **named)
        if isinstance(node, nodes.For):
            assert isinstance(node.iter, nodes.Expr)
            node.iter = _filter(node.iter, "_counted", nodes.Const(steps))
        elif isinstance(node, nodes.Concat):
            return _filter(nodes.List(node.nodes, lineno=node.lineno), "_joined")
        elif isinstance(node, nodes.List | nodes.Dict) or (isinstance(node, nodes.Tuple) and node.ctx == "load"):
            return _filter(node, "_weighed")
        return node


def _filter(of: nodes.Expr, name: str, *arguments: nodes.Expr) -> nodes.Filter:
    return nodes.Filter(of, name, list(arguments), [], None, None, lineno=of.lineno)


def filled(text: str, scenario: Scenario) -> tuple[str, Sequence[str]]:
    """The text with a mark for every value, so that no value can mean anything to Markdown, and the values.

    Raises TrainerError, without the file's name, where a line cannot be understood or asks too much.
    """
    sandbox = _Sandbox()
    _, sandbox.call_costs = _with_counts(text)
    try:
        template = sandbox.template_class.from_code(sandbox, _compiled(text), sandbox.make_globals(None))
        made = _no_longer(template.generate(_values(scenario)))
    except _TooMuch as error:
        raise TrainerError(
            f"{_line(error)} repeats or joins far more than a brief has to. Write it more simply."
        ) from error
    except SecurityError as error:
        raise TrainerError(f"{_line(error)} does something that briefs may not do ({error}). {_words()}.") from error
    except Exception as error:  # whatever it was, the brief has brought it about
        raise TrainerError(f"{_line(error)} cannot be filled in ({error}). {_words()}.") from error
    if made is None or len(unmarked(made, sandbox.values)) > LONGEST:
        raise _too_long()
    return made, sandbox.values


@lru_cache(maxsize=8)
def _compiled(text: str) -> CodeType:
    """The same as code."""
    counting, _ = _with_counts(text)
    code = _Sandbox().compile(counting)
    assert isinstance(code, CodeType)
    return code


def _no_longer(pieces: Iterable[str]) -> str | None:
    """The pieces together; None where they get longer than a brief may be, and then not all of them were asked for."""
    taken: list[str] = []
    length = 0
    for piece in pieces:
        taken.append(piece)
        length += len(piece)
        if length > LONGEST:
            return None
    return "".join(taken)


def _too_long() -> TrainerError:
    return TrainerError(f"it gets longer than {LONGEST} characters. Shorten it.")


def _too_deep() -> TrainerError:
    return TrainerError("it holds too much inside one another. Write it more simply.")


def refuse_unknown(text: str) -> None:
    """Raises TrainerError, without the file's name, for what cannot be understood in a brief, whichever lab it is for: every
    word that it does not know, each with its line.
    """
    _understood(text)


@lru_cache(maxsize=8)
def _with_counts(text: str) -> tuple[nodes.Template, int]:
    """The brief with its counts in it, and what a call of a macro costs: the same for every lab of a class."""
    parsed = _understood(text)
    call_costs = max((sum(1 for _ in each.find_all(nodes.Node)) for each in parsed.find_all(nodes.Macro)), default=1)
    try:
        return _Counting().visit(parsed), call_costs
    except RecursionError as error:
        raise _too_deep() from error


def _understood(text: str) -> nodes.Template:
    if len(text) > _LONGEST_SOURCE:
        raise _too_long()
    try:
        parsed = _Sandbox().parse(_source(text))
        faults = sorted(set(_faults(parsed)))
    except TemplateSyntaxError as error:
        why = error.message or ""
        if why.startswith("Unexpected end of template"):
            why = "a {% for ... %} or {% if ... %} has no end: {% endfor %}, {% endif %}"
        raise TrainerError(
            f"line {error.lineno} cannot be understood ({why}). Write values like {{{{ block }}}}. {_words()}."
        ) from error
    except (TemplateError, RecursionError, MemoryError) as error:
        raise _too_deep() from error
    except ValueError as error:  # of more than 4,300 digits Python makes no number
        raise TrainerError("a number in it has too many digits. Shorten it.") from error
    if faults:
        raise TrainerError(f"{' '.join(each for _, each in faults)} {_words()}.")
    return parsed


def _faults(parsed: nodes.Template) -> Iterator[tuple[int, str]]:
    """Lines, and what is wrong with them."""
    known = BRIEF_WORDS.keys() | {each.name for each in _names_set(parsed)}
    for line, name in _unknown(parsed, known):
        meant = did_you_mean(name, BRIEF_WORDS)
        yield line, f"line {line} cannot be filled in ({name!r} is undefined). {meant}".strip()
    for line, name, parts in _unknown_parts(parsed):
        meant = did_you_mean(name, parts) or f"There are: {', '.join(parts)}."
        yield line, f"line {line} cannot be filled in ({name!r} is no part of it). {meant}"
    for node in parsed.find_all(nodes.Filter):
        if node.name not in _FILTERS:
            there_are = f"There are: {', '.join(_FILTERS)}."
            yield (
                node.lineno,
                f"line {node.lineno} cannot be filled in (the filter {node.name!r} is not for briefs). {there_are}",
            )
    for kind, word in _STATEMENTS.items():
        for statement in parsed.find_all(kind):
            yield statement.lineno, f"line {statement.lineno} cannot be filled in ({{% {word} %}} is not for briefs)."
    for loop in parsed.find_all(nodes.For):
        if loop.recursive:
            yield loop.lineno, f"line {loop.lineno} cannot be filled in (recursive loops are not for briefs)."


def _names_set(parsed: nodes.Template) -> Iterator[nodes.Name]:
    """What is set by {% set ... %} and {% macro ... %}."""
    for node in parsed.find_all((nodes.Assign, nodes.AssignBlock)):
        yield from (each for each in node.find_all(nodes.Name) if each.ctx == "store")
    for macro in parsed.find_all(nodes.Macro):
        yield nodes.Name(macro.name, "store")
        yield from (argument for argument in macro.args if isinstance(argument, nodes.Name))


def _unknown(node: nodes.Node, known: AbstractSet[str]) -> Iterator[tuple[int, str]]:
    """Lines and names of what is neither known nor, where it stands, the name of a loop."""
    if isinstance(node, nodes.Name) and node.ctx == "load" and node.name not in known:
        yield node.lineno, node.name
    if isinstance(node, nodes.For):
        targets = (*node.target.find_all(nodes.Name), *([node.target] if isinstance(node.target, nodes.Name) else []))
        inside = known | {"loop", *(each.name for each in targets)}
        yield from _unknown(node.iter, known)
        for each in (*node.body, *node.else_, *([node.test] if node.test else [])):
            yield from _unknown(each, inside)
        return
    for child in node.iter_child_nodes():
        yield from _unknown(child, known)


def _unknown_parts(parsed: nodes.Template) -> Iterator[tuple[int, str, Sequence[str]]]:
    """Lines and names of parts that no member of the list has which a loop goes through, and the parts that there are."""
    for loop in parsed.find_all(nodes.For):
        lists = [loop.iter, *loop.iter.find_all(nodes.Name)]
        through = next((each.name for each in lists if isinstance(each, nodes.Name)), "")
        if through not in _PARTS or not isinstance(loop.target, nodes.Name):
            continue
        for part in loop.find_all(nodes.Getattr):
            is_member = isinstance(part.node, nodes.Name) and part.node.name == loop.target.name
            if is_member and part.attr not in (*_PARTS[through], *_METHODS):
                yield part.lineno, part.attr, _PARTS[through]


def _source(text: str) -> str:
    """The text as the sandbox takes it. A line that holds nothing but {% for ... %} or the like leaves no blank line behind,
    which would end a table or a list; lines keep their numbers.
    """
    return _ALONE.sub(lambda found: f"{found[1]}\n{found[2]}", text.replace(_MARK, " "))


def _line(fault: Exception) -> str:
    """The line of the brief that was filled in when it happened."""
    lines = [frame.lineno for frame in traceback.extract_tb(fault.__traceback__) if frame.filename == "<template>"]
    return f"line {lines[-1]}" if lines else "a value"


@cache
def _words() -> str:
    return f"Known are {', '.join(BRIEF_WORDS)}"


def unmarked(text: str, values: Sequence[str]) -> str:
    """The text with its values in place of their marks."""
    return _MARKED.sub(lambda found: values[int(found[1])] if int(found[1]) < len(values) else "", text)


def _values(scenario: Scenario) -> Mapping[str, Any]:
    return {
        "lab": scenario.lab_number,
        "trainee": scenario.trainee.id,
        "title": scenario.title,
        "date": scenario.date,
        "minutes": scenario.minutes,
        "block": scenario.block.with_prefixlen,
        "lease_hours": scenario.lease_hours,
        "server": scenario.server.name,
        "switches": [{"name": each.name, "place": each.place} for each in scenario.switches],
        "networks": [
            {"vlan": each.number, "name": each.name, "switch": each.switch, "needed": each.addresses_needed}
            for each in scenario.vlans
        ],
        "stations": [{"name": each.name, "vlan": each.vlan.number, "port": str(each.at)} for each in scenario.stations],
    }
