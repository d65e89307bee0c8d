"""Pages and addresses are alike in every application a test makes: compiled once, not each time.

Two fifths of what the tests of pages took went into compiling the same templates and the same
rules of addresses again for every test.
"""

from __future__ import annotations

from collections.abc import Callable
from types import CodeType
from typing import Any

from flask import Flask
from jinja2.bccache import Bucket, BytecodeCache
from werkzeug.routing import Rule


class InMemory(BytecodeCache):
    """Compiled templates by their name, file and text."""

    def __init__(self) -> None:
        self.kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self.kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.kept[bucket.key, bucket.checksum] = bucket.code


def compile_once() -> None:
    """Let all applications of this process share what they compile."""
    Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": InMemory()}
    builders: dict[tuple[object, ...], Callable[..., Any]] = {}
    compile_builder = Rule._compile_builder

    def builder(rule: Rule, append_unknown: bool = True) -> Callable[..., Any]:  # noqa: FBT002 - werkzeug's
        key = (rule.rule, repr(rule._trace), repr(rule.defaults), append_unknown)
        if key not in builders:
            builders[key] = compile_builder(rule, append_unknown)
        return builders[key]

    Rule._compile_builder = builder  # type: ignore[method-assign]
