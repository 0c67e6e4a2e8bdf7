"""A form of a sheet as a browser would send it."""

from html.parser import HTMLParser


class _FormReader(HTMLParser):
    def __init__(self, action: str) -> None:
        super().__init__(convert_charrefs=True)
        self.action = action
        self.values: dict[str, str] = {}
        self.found = False
        self._inside = False
        self._select: str | None = None
        self._options: list[tuple[str | None, bool, str]] = []
        self._option: list[str] | None = None
        self._text: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name = given.get("name") or ""
        if tag == "form":
            self._inside = given.get("action", "") == self.action
            self.found = self.found or self._inside
        if not self._inside:
            return
        if tag == "input" and name and given.get("type") != "file":
            is_box = given.get("type") in ("checkbox", "radio")
            if not is_box or "checked" in given:
                self.values[name] = given.get("value") or ("on" if is_box else "")
        elif tag == "select":
            self._select, self._options = name, []
        elif tag == "option" and self._select is not None:
            self._options.append((given.get("value"), "selected" in given, ""))
            self._option = []
        elif tag == "textarea":
            self._text = name
            self.values[name] = ""

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self.values[self._text] += data
        elif self._option is not None:
            self._option.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._inside = False
        elif tag == "textarea" and self._text is not None:
            self.values[self._text] = self.values[self._text].removeprefix("\n")
            self._text = None
        elif tag == "option" and self._option is not None:
            value, is_selected, _ = self._options[-1]
            self._options[-1] = (value, is_selected, "".join(self._option).strip())
            self._option = None
        elif tag == "select" and self._select is not None:
            taken = next((o for o in self._options if o[1]), self._options[0] if self._options else None)
            if taken is not None:
                self.values[self._select] = taken[2] if taken[0] is None else taken[0]
            self._select = None


def fields_of(page: str, action: str = "") -> dict[str, str]:
    """The fields of the form with this action and what stands in them."""
    reader = _FormReader(action)
    reader.feed(page)
    reader.close()
    assert reader.found, f"there is no form for {action!r}"
    return reader.values
