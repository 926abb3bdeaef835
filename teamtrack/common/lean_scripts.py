"""Scripts as they are served: without the comments and the indentation that only their authors need."""


def lean_script(text: str) -> str:
    """The same script without whole-line comments, blank lines and leading white space.

    Lines stay lines, so that nothing depends on inserted semicolons. A text in which a template literal, a string or a
    comment does not end where it can be seen line by line is answered as it is.
    """
    lines: list[str] = []
    in_comment = False
    for line in text.splitlines():
        bare = line.strip()
        starts = not in_comment and bare.startswith("/*")
        if in_comment or starts:
            end = bare.find("*/", 2 if starts else 0)
            if end >= 0 and end + 2 != len(bare):
                return text
            in_comment = end < 0
        elif bare.startswith("//") or not bare:
            continue
        elif bare.count("`") % 2 or bare.endswith("\\"):
            return text
        else:
            lines.append(bare)
    return text if in_comment else "\n".join(lines) + "\n"
