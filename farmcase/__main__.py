"""The command line: new, check and decide.

Exit status 0, or 2 with one clear sentence for each fault.
"""

from __future__ import annotations

import argparse
import logging
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from farmcase.errors import FarmcaseError
from farmcase.inputs.folder import open_case
from farmcase.inputs.starter import new_case
from farmcase.model.evaluate import evaluate
from farmcase.output.check_report import check_report
from farmcase.output.decision import decision_text


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit status."""
    options = _parser().parse_args(arguments)
    if options.verbose:
        logging.basicConfig(level=logging.INFO, format="%(levelname)s %(message)s")
    try:
        _say(options.run(options), sys.stdout)
    except FarmcaseError as error:
        _say(str(error), sys.stderr)
        return 2
    return 0


def _say(text: str, stream: TextIO) -> None:
    """Print, with a question mark for what the console's own letters do not hold."""
    encoding = stream.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding), file=stream, flush=True)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m farmcase",
        description="The business case for growing mushrooms in containers.",
    )
    parser.add_argument("--verbose", action="store_true", help="say more while working")
    commands = parser.add_subparsers(required=True, metavar="command")
    new = commands.add_parser("new", help="start a case folder of your own")
    new.add_argument("name", metavar="NAME", help="small letters, digits and _")
    new.set_defaults(run=_new)
    for name, run, text in (
        ("check", _check, "say what was read, how rooms are loaded and what is thin"),
        ("decide", _decide, "print the choice on one screen"),
    ):
        command = commands.add_parser(name, help=text)
        command.add_argument("case", metavar="CASE", help="a case folder, or the name of one")
        command.set_defaults(run=run)
    return parser


def _new(options: argparse.Namespace) -> str:
    folder = new_case(options.name)
    shown = folder.relative_to(Path.cwd()) if folder.is_relative_to(Path.cwd()) else folder
    return (
        f"Made {shown}: a copy of the demonstration case.\n"
        "Put your own name, numbers and sources into case.toml and the tables, set\n"
        "demonstration = false, and run: .venv/bin/python -m farmcase check " + options.name
    )


def _check(options: argparse.Namespace) -> str:
    return check_report(evaluate(open_case(options.case)))


def _decide(options: argparse.Namespace) -> str:
    return decision_text(evaluate(open_case(options.case)))


if __name__ == "__main__":
    try:
        sys.exit(main())
    except BrokenPipeError:
        sys.stderr.close()
