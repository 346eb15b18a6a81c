"""Which shapes belong to which piece: by group, by dotted name, or each by itself."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ...errors import InputError
from .drafts import MOST_PIECES, Draft, Gathered, Options
from .marking import marking_of
from .names import clean, untaken, without_copy_suffix, without_size_suffix
from .shapes import Drawing, Group, Shape
from .sizes import Sizes

if TYPE_CHECKING:
    from .told_apart import Apart

#: More marks than this in one drawing are no marks.
_MOST_MARKS = 20_000


def gather(drawing: Drawing, options: Options) -> Gathered:
    """Sort everything drawn into drafts of pieces."""
    return _Gatherer(drawing, options).run()


class _Gatherer:
    def __init__(self, drawing: Drawing, options: Options) -> None:
        self.drawing = drawing
        self.out = Gathered(options)
        self.sizes = Sizes()
        self.ids = frozenset(e.ident for e in drawing.root.iter() if e.ident)
        self.by_group: dict[int, Draft] = {}
        self.by_name: dict[tuple[str, str | None], Draft] = {}

    def run(self) -> Gathered:
        loose = self._into_groups()
        grouped = bool(self.by_group)
        loose = self._by_dots(loose)
        plain = [d for d in loose if d.marking is None]
        if grouped:
            for drawn in plain:
                self.out.aside(drawn, "outside the groups that are marked as pieces")
        else:
            self._of_plain(plain)
        self._loose_marks([d for d in loose if d.marking is not None])
        self._judge_number()
        self.out.drafts.sort(key=lambda d: d.position)
        return self.out

    def _of_plain(self, plain: list[Shape]) -> None:
        """Pieces of shapes that say nothing of themselves, which may be a nest of sizes."""
        from .plain import plain_pieces
        from .told_apart import Apart, told_apart

        apart = Apart(plain)
        if not self.out.drafts:
            apart = told_apart(plain, self.drawing, self.sizes, self.out)
        found = plain_pieces(apart.shapes, self.drawing, self.sizes, self.ids, self.out)
        _named_alike(found, apart)
        for draft in found:
            self._add(draft)

    def _judge_number(self) -> None:
        marks = sum(len(d.marks) for d in self.out.drafts)
        if len(self.out.drafts) > MOST_PIECES or marks > _MOST_MARKS:
            raise InputError(
                f"the drawing has {len(self.out.drafts)} pieces with {marks} marks, more than "
                f"{MOST_PIECES} and {_MOST_MARKS}",
                cure="Take out everything but the pieces of one pattern.",
            )

    def _add(self, draft: Draft) -> Draft:
        self.out.drafts.append(draft)
        self.by_name.setdefault((draft.name, draft.size), draft)
        return draft

    # --- groups that say they are pieces ------------------------------------------

    def _into_groups(self) -> list[Shape]:
        """Put what stands in piece groups into their drafts; the rest comes back."""
        rest: list[Shape] = []
        for drawn in self.drawing.shapes:
            if drawn.hidden:
                self.out.aside(drawn, "hidden")
                continue
            group = next((g for g in drawn.group.chain() if g.element.get("data-piece")), None)
            own = drawn.element.get("data-piece") if drawn.marking is None else ""
            if own:
                draft = Draft(
                    self.out,
                    self.out.cleaned(own),
                    self.sizes.of(drawn),
                    [drawn.element],
                    drawn.group,
                    position=drawn.position,
                )
                draft.shapes.append(drawn)
                self.by_group[id(drawn)] = self._add(draft)
            elif group is None:
                rest.append(drawn)
            else:
                self._of_group(group, drawn)
        return rest

    def _of_group(self, group: Group, drawn: Shape) -> None:
        draft = self.by_group.get(id(group))
        if draft is None:
            name = self._group_name(group)
            draft = Draft(
                self.out,
                name,
                self.sizes.of_group(group),
                [group.element],
                group,
                position=drawn.position,
            )
            self.by_group[id(group)] = self._add(draft)
        (draft.shapes if drawn.marking is None else draft.marks).append(drawn)

    def _group_name(self, group: Group) -> str:
        """The name that a group says; of a clone, the one that its `use` says or bears."""
        name = self.out.cleaned(group.element.get("data-piece"))
        outer = group.parent
        if outer is not None and outer.element.kind == "use" and outer.element.get("data-piece"):
            return self.out.cleaned(outer.element.get("data-piece"))
        if group.via is None or (name, self.sizes.of_group(group)) not in self.by_name:
            return name
        own = self.out.cleaned(group.via.name)
        if group.via.name:
            text = f'a clone of the piece "{name}" is called "{own}"'
            cure = "Unlink the clone and give the piece its own name, or take it out."
            self.out.find("name-twice", "warn", text, cure, place=group.via.place)
        return own if group.via.name else name

    # --- dotted names ----------------------------------------------------------------

    def _by_dots(self, loose: list[Shape]) -> list[Shape]:
        """Pieces and marks by dotted names; what has none comes back."""
        outlined: set[tuple[str, str | None]] = set()
        self._without_suffixes(loose)
        for drawn in loose:
            if drawn.marking is not None and drawn.marking.piece:
                outlined.add((drawn.marking.piece, self.sizes.of(drawn)))
        if not outlined:
            return loose
        rest: list[Shape] = []
        for drawn in loose:
            key = self._dotted_key(drawn, outlined)
            if key is None:
                rest.append(drawn)
                continue
            draft = self.by_name.get(key) or self.by_name.get((key[0], None))
            if draft is None:
                draft = self._add(Draft(self.out, *key, position=drawn.position))
            (draft.shapes if drawn.marking is None else draft.marks).append(drawn)
        self._settle_dotted()
        return rest

    def _without_suffixes(self, loose: list[Shape]) -> None:
        """Dotted ids without what an editor or a size put at their end."""
        taken: set[tuple[str, str | None]] = set()
        for drawn in loose:
            if drawn.marking is None or not drawn.marking.by_id:
                continue
            size, ident = self.sizes.of(drawn), drawn.element.ident
            short = without_size_suffix(ident, size)
            if short == ident:
                short = without_copy_suffix(ident, self.ids)
            if (short, size) in taken:
                short = ident
            taken.add((short, size))
            if short != ident:
                drawn.marking = marking_of(drawn.element, short) or drawn.marking

    def _dotted_key(
        self, drawn: Shape, outlined: set[tuple[str, str | None]]
    ) -> tuple[str, str | None] | None:
        size = self.sizes.of(drawn)
        if drawn.marking is not None:
            return (drawn.marking.piece, size) if drawn.marking.piece else None
        for name in (drawn.element.name, *(g.element.name for g in drawn.group.chain())):
            key = (clean(name), size)
            if name and key in outlined:
                return key
        return None

    def _settle_dotted(self) -> None:
        """Give dotted drafts their attribute bearers; those without any line are no pieces."""
        for draft in list(self.out.drafts):
            if draft.elements:
                continue
            outlines = [d for d in draft.marks if d.marking and d.marking.outlining]
            named = [d for d in draft.shapes if clean(d.element.name) == draft.name]
            if named and not outlines:
                # The shape that bears the piece's own name is its outline.
                for other in draft.shapes:
                    if other not in named:
                        draft.take_in(other)
                draft.shapes = named
            if not outlines and not draft.shapes:
                self._no_outline(draft)
                continue
            draft.elements = [d.element for d in (*outlines, *draft.shapes)]
            draft.group = (outlines or draft.shapes)[0].group

    def _no_outline(self, draft: Draft) -> None:
        self.out.drafts.remove(draft)
        self.by_name.pop((draft.name, draft.size), None)
        for drawn in draft.marks:
            self.out.aside(drawn, f'names a piece "{draft.title}" that is not there')
        text = f'{len(draft.marks)} mark(s) name a piece "{draft.title}" that is not in the drawing'
        cure = f'Name its outline "{draft.name}.outline", or mend the names of the marks.'
        self.out.find("mark-without-piece", "warn", text, cure)

    # --- marks without a group ----------------------------------------------------------

    def _loose_marks(self, marks: Iterable[Shape]) -> None:
        """Marks outside piece groups go to the one piece of the nearest group that has any."""
        held: dict[int, list[Draft]] = {}
        for draft in self.out.drafts:
            for group in draft.group.chain() if draft.group else ():
                held.setdefault(id(group), []).append(draft)
        for drawn in marks:
            assert drawn.marking is not None
            around = next((held[id(g)] for g in drawn.group.chain() if id(g) in held), [])
            size = self.sizes.of(drawn)
            fits = [d for d in around if d.size == size]
            if len(fits) == 1:
                fits[0].marks.append(drawn)
                continue
            self.out.aside(drawn, f"{drawn.marking.says()}, in no piece")
            text = f"a mark ({drawn.marking.says()}) stands in no piece"
            cure = 'Put it into its piece\'s group (data-piece), or name it as in "front.grain".'
            self.out.find("mark-without-piece", "warn", text, cure, place=drawn.element.place)


def _named_alike(drafts: Sequence[Draft], apart: Apart) -> None:
    """One name for the sizes of each piece of a nest, which may stand in some of them only."""
    from .told_apart import one_name

    pieces: dict[int, dict[str | None, Draft]] = {}
    for draft in drafts:
        number = apart.pieces.get(id(draft.shapes[0])) if draft.shapes else None
        if number is not None:
            # One shape may hold several outlines of one size: only one of them is this piece.
            pieces.setdefault(number, {}).setdefault(draft.size, draft)
    alike = {id(draft) for same in pieces.values() for draft in same.values()}
    taken: set[str] = {draft.name for draft in drafts if id(draft) not in alike}
    for same in pieces.values():
        name = untaken(one_name([draft.name for draft in same.values()]), taken)
        taken.add(name)
        for draft in same.values():
            draft.name = name
