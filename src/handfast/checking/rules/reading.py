"""Rules that are applied while the files are read."""

from __future__ import annotations

from handfast.checking.case import Rule

RULES = (
    Rule(
        "file-missing",
        "Every file that is named, and project.yaml itself, must be there and be readable.",
    ),
    Rule(
        "file-too-large",
        "A project file is at most 4 MB: more is not written by a person, and would stall.",
    ),
    Rule(
        "not-utf-8",
        "Project files are text in UTF-8, so that every machine reads the same characters.",
    ),
    Rule(
        "yaml",
        "The file must follow YAML's grammar. Most often a colon, a bracket or the indentation is off.",
    ),
    Rule(
        "tag",
        "Values are plain; YAML tags (!something) can make other programs run code, and are refused.",
    ),
    Rule("too-deep", "Lists and mappings nest at most 40 levels; the formats need fewer than ten."),
    Rule(
        "exploding-anchors",
        "Anchors may save writing, but a file must not unfold to more than 100 000 values.",
    ),
    Rule("key", "A key is a plain name, not a list or a mapping."),
    Rule("merge", "`<<` takes the alias of a mapping, or a list of such aliases."),
    Rule("duplicate-key", "Each key stands once; of two, nobody could say which one is meant."),
    Rule(
        "unknown-key",
        "Only known keys may be written, so that a slip of the pen is not silently ignored.",
    ),
    Rule("missing-key", "Some keys have no sensible default and must be written."),
    Rule("wrong-value", "The value must be of the kind that the key asks for."),
    Rule("choice", "The value must be one of the listed words."),
    Rule(
        "unit",
        "A quantity is a finite number with its unit, such as 10 mm: a bare number could be anything.",
    ),
    Rule("range", "The number must lie where it makes sense, such as above zero for a diameter."),
    Rule("values-disagree", "Values that are fine each by itself must also fit together."),
    Rule(
        "path-leaves-folder",
        "A project is complete in its folder: paths are relative and stay inside it.",
    ),
    Rule(
        "package-file",
        "package:NAME/path names a file of an installed package, such as open robot data; it must be there, "
        "inside the package. It is only read.",
    ),
    Rule(
        "assumed-error",
        "An error that nobody knows is assumed, cautiously, and said to be assumed wherever it matters.",
    ),
)
