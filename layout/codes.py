"""The findings there can be: each a stable code with what it says, its weight, why it matters, what mends it and a plan that shows it.

`layout.setout.checks` and its neighbours make findings of them; `gaugerod check --explain CODE` prints one; records tell its
weight. Sources of the limits stand with the rules (`layout.standards`) and in each finding's own words.
"""

from __future__ import annotations

from layout.codes_of_works import CODES_OF_WORKS
from layout.errors import Code

_BOX = "outline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]"
_LONG = "outline = [[0, 0], [12000, 0], [12000, 4000], [0, 4000]]"
_GULLY = 'drains = [{ kind = "gully", at = [2000, 1500] }]'
_CHANNEL = "outline = [[0, 0], [4350, 0], [4350, 3000], [0, 3000]]\n" + (
    'drains = [{ kind = "channel", from = [4300, 0], to = [4300, 3000], width = 100 }]'
)


def _room(text: str, before: str = "") -> str:
    return f"{before}{chr(10) if before else ''}[[rooms]]\n{text}\n"


CODES: dict[str, Code] = {
    "audit": Code(
        "a figure that is told and what is laid differ: a fault of the tool",
        "stop",
        "every figure is found again from the pieces before a file is written; one that differs cannot be ordered or cut by",
        "send the plan to the maintainers; do not build from these figures",
    ),
    "cut-below-least": Code(
        "a cut narrower than the tile's least cut",
        "look",
        "narrow strips break when cut, come loose and draw the eye; half a tile is the usual least",
        "free the start, turn or shift the pattern, or give tiles.floor.least_cut if a narrower cut will do",
        _room(_BOX, "[tiles.floor]\nstart = [190, 190]"),
    ),
    "pull-missed": Code(
        "what the plan asks of the start cannot be met, or is missed",
        "look",
        "a pull gives way to criteria that come before it, and two pulls may ask for different starts",
        "put pulls first in rules.start_order, or drop the pull that matters less",
        _room(f'{_BOX}\npulls = [{{ want = "tile", at = [2000, 1500] }}, {{ want = "crossing", at = [1000, 1500] }}]'),
    ),
    "cut-may-vanish": Code(
        "within the walls' tolerance a cut may become a sliver",
        "look",
        "walls are never where the drawing puts them; a cut that is wide enough on paper may be nothing on site",
        "measure the wall and give rules.wall_tolerance = 3, or take another start",
        _room(_BOX, "[tiles.floor]\nstart = [20, 100]\nleast_cut = 10"),
    ),
    "weak-piece": Code(
        "a cut tile with a narrow neck or a hole near its edge",
        "look",
        "it breaks at the neck when it is sawn, drilled or first walked on",
        "split the tile there with a joint, or shift the start as the finding says",
        _room(_BOX, "[tiles.floor]\nstart = [60, 60]"),
    ),
    "joint-under-scatter": Code(
        "the joint is narrow for how much the tiles differ",
        "look",
        "joints take up the difference of tiles; too narrow, lines wander or tiles touch",
        "widen the joint, or have the tiles sorted by calibre",
        _room(_BOX, "[tiles.floor]\nscatter = 1.5\njoint = 3"),
    ),
    "joint-narrow": Code(
        "the joint is narrow for resin grout",
        "look",
        "resin grout is stiff: in a narrow, deep joint it bridges over a hollow",
        "widen the joint, or ask the maker of the grout",
        _room(_BOX, "[tiles.floor]\njoint = 2"),
    ),
    "bond-offset": Code(
        "a long tile is laid with more offset than published",
        "look",
        "long tiles bow: at half an offset the middle of one meets the ends of the next, and an edge stands up",
        "give offset = 0.33 or less",
        _room(_BOX, '[tiles.floor]\nsize = [900, 150]\npattern = "running"\noffset = 0.5'),
    ),
    "strip-dropped": Code(
        "strips too narrow to be tile were left out and counted",
        "note",
        "what is nowhere wider than 0.1 mm, or lies within a joint, is no tile; its area is told, so that areas still add up",
        "nothing, or move the start by a millimetre",
    ),
    "tile-larger-than-face": Code(
        "no whole tile fits on a surface",
        "look",
        "every tile there is cut, with much waste and an odd look",
        "give the surface a smaller tile",
        _room("outline = [[0, 0], [150, 0], [150, 2000], [0, 2000]]"),
    ),
    "surface-too-small": Code(
        "nothing of a surface is left for tile",
        "look",
        "build-up and joints take all of it; it is tanked and left bare, or filled with sealant",
        "make the face larger, or leave it untiled",
    ),
    "bay-over-rule": Code(
        "a bay breaks the movement-joint rule set",
        "stop",
        "a field larger than the published limit cracks or lifts when it warms and dries",
        'give the room a joint where the finding says, another rule set that fits the use, or rules.bays = "cut"',
        _room("outline = [[0, 0], [4000, 0], [2000, 3000]]", "[rules]\nmax_area = 0.2"),
    ),
    "joint-too-narrow": Code(
        "a sealant joint is narrower than its movement asks",
        "stop",
        "sealant that is stretched over its capability tears from the tile, and water goes behind it",
        "widen rules.movement_joint, shorten the bays, or take a sealant of a higher movement class",
        _room(_LONG, '[rules]\nmovement_joint = 6\nmovement = "UK_FLOOR"\n[sealant]\ntemperatures = [5, 90]\nmovement_class = 12.5'),
    ),
    "joint-near-flange": Code(
        "a movement joint runs nearer to a drain's flange than the stated distance",
        "look",
        "the membrane is clamped at the flange; movement close by works at that edge",
        "move the drain or the joint",
        _room(f"{_BOX}\n{_GULLY}\nstructural_joints = [{{ line = [[2200, 0], [2200, 3000]] }}]"),
    ),
    "joint-through-drain": Code(
        "a movement joint runs through a drain",
        "stop",
        "no sealant joint can be made through a frame",
        "move the drain or the joint",
        _room(f"{_BOX}\n{_GULLY}\nstructural_joints = [{{ line = [[2000, 0], [2000, 3000]] }}]"),
    ),
    "structural-joint-cut": Code(
        "a structural joint does not run along the tile joints",
        "look",
        "tiles are cut along both its faces, at an angle",
        "turn the tiles along it, or leave it and saw",
        _room(f"{_BOX}\nstructural_joints = [{{ line = [[1000, 0], [2500, 3000]] }}]"),
    ),
    "joint-along-edge": Code(
        "a movement joint runs along an edge of the floor, whose sealant it widens",
        "note",
        "the joint and the edge's own sealant become one; no sliver of tile is left between them",
        "nothing; the strip is counted as left out",
        _room(
            "outline = [[0, 0], [9000, 0], [9000, 3000], [4000, 3000], [4000, 7000], [0, 7000]]\n"
            "columns = [{ outline = [[3500, 1000], [3986, 1000], [3986, 1600], [3500, 1600]] }]",
            '[rules]\nmovement = "DE_INTERIOR"',
        ),
    ),
    "frame-joint-closed": Code(
        "the joint round a frame is made a little narrower, so that tiles beside it stay whole",
        "note",
        "nobody saws a millimetre off a tile; the joint beside takes it up",
        "nothing; or move the drain by as much, if it is not set yet, or give rules.frame_joint_play = 0 to saw",
        _room(
            f'{_BOX}\ndrains = [{{ kind = "gully", at = [2003, 1500], frame = [200, 200] }}]', "[tiles.floor]\njoint = 6\nstart = [49, 164]"
        ),
    ),
    "small-bite": Code(
        "a wall, column or plinth takes so little off tiles that no saw cuts it",
        "note",
        "a millimetre or two is ground off, or the sealant joint beside takes it up; sawn, the tile chips",
        "make the joint there so much narrower, down to the least edge joint, or shift the start; rules.least_bite tells up to how deep",
        _room(
            f'{_BOX}\noutline_is = "finished"\ncolumns = [{{ outline = [[1606, 1500], [1806, 1500], [1806, 1700], [1606, 1700]] }}]',
            "[tiles.floor]\njoint = 6\nstart = [164, 164]",
        ),
    ),
    "bay-balanced": Code(
        "a bay does not start whole from its joint, since its far cut would be under the least",
        "note",
        "a joint whose place is given is the datum of its bays only while their far cuts stay sound",
        "move the joint, if it is not in the structure yet, by what the cut lacks",
        _room(
            "outline = [[0, 0], [6100, 0], [6100, 4000], [0, 4000]]\nstructural_joints = [{ line = [[2950, 0], [2950, 4000]], width = 20 }]"
        ),
    ),
    "joint-near-arris": Code(
        "a floor joint meets a face too near to its end to be carried up it",
        "note",
        "between the joint and the corner only a strip of tile would be left",
        "nothing: the sealant at foot and corner takes it; or move the column or the joint",
        _room(
            f"{_BOX}\ntile_height = 2000\nstructural_joints = [{{ line = [[2000, 0], [2000, 3000]] }}]\n"
            "columns = [{ outline = [[1950, 1000], [2650, 1000], [2650, 1700], [1950, 1700]] }]"
        ),
    ),
    "gap-narrow": Code(
        "a gap between column, plinth and wall is too narrow to tape and tile",
        "look",
        "no hand with a brush or a trowel comes into it, and it stays open to water",
        "fill the gap, box both in, or move one of them",
        _room(f"{_BOX}\ncolumns = [{{ outline = [[90, 1000], [390, 1000], [390, 1300], [90, 1300]] }}]"),
    ),
    "door-shared": Code(
        "a door is that of an earlier room, where its threshold is measured",
        "note",
        "one door has one threshold: its joint and its tape are counted once",
        "nothing; name the other side with same_as where rooms are not placed on the key plan",
        _room(f'name = "Kitchen"\n{_BOX}\nopenings = [{{ wall = 2, offset = 1000, width = 900, name = "door" }}]\n')
        + _room(
            f'name = "Store"\n{_BOX}\nopenings = [{{ wall = 4, offset = 1100, width = 900, same_as = {{ room = "Kitchen", opening = "door" }} }}]'
        ),
    ),
    "start-joint-loop": Code(
        "start and movement joints did not settle on each other",
        "note",
        "a start moves the joints and the joints move the start; the best pair that was tried is taken",
        "nothing; fix the start or a joint to have another",
        _room(_BOX, "[rules]\nmax_aspect = 1.1"),
    ),
    "openings-merged": Code(
        "overlapping openings were taken as one",
        "look",
        "two openings cannot share a place in a wall; one of them is likely typed wrong",
        "mend offset or width of one",
        _room(f"{_BOX}\nopenings = [{{ wall = 1, offset = 500, width = 900 }}, {{ wall = 1, offset = 1200, width = 900 }}]"),
    ),
    "wall-number": Code(
        "a wall is told by its number, behind a corner in the middle of a straight wall",
        "look",
        "a corner put into a wall gives every wall behind it another number: a door typed by number then stands in another wall",
        'write the wall\'s name on its edge, { to = [2000, 0], wall = "servery" }, and refer to that',
        _room("outline = [[0, 0], [2000, 0], [4000, 0], [4000, 3000], [0, 3000]]\nopenings = [{ wall = 2, offset = 500, width = 900 }]"),
    ),
    "fall-outside-range": Code(
        "a fall is flatter or steeper than the published range",
        "look",
        "flatter, water stays; steeper, people and trolleys slip",
        "give another ratio, or rules.fall_range for another published range",
        _room(f'{_BOX}\n{_GULLY}\nfalls = [{{ to = "gully 1", ratio = 200, perimeter = "free" }}]'),
    ),
    "ramp-steep": Code(
        "a ramp is steeper than people and trolleys can use",
        "look",
        "wet, it is slipped on; a wheeled load runs away on it",
        "make it longer or lower",
        _room(f'{_BOX}\nfalls = [{{ name = "ramp", plane = [[0, 0, 0], [1000, 0, 100], [0, 3000, 0]] }}]'),
    ),
    "ramp-foot": Code(
        "no movement joint lies at the foot of a ramp",
        "look",
        "where the plane changes the floor's push goes upwards: tile there comes loose",
        'give a joint along its foot: structural_joints = [{ line = [[...], [...]], of = "finish" }], or set the drain there',
        _room(
            f'{_BOX}\ndrains = [{{ kind = "gully", at = [1000, 1500] }}]\n'
            'falls = [{ name = "ramp", plane = [[2000, 0, 0], [4000, 0, 100], [2000, 3000, 0]], '
            "region = [[2000, 0], [4000, 0], [4000, 3000], [2000, 3000]] }, "
            '{ to = "gully 1", ratio = 60, region = [[0, 0], [2000, 0], [2000, 3000], [0, 3000]] }]',
            '[rules]\nmovement = "UK_FLOOR"',
        ),
    ),
    "crumbs-at-hips": Code(
        "many of the pieces along hips and valleys are too small to lay",
        "look",
        "pieces nowhere wider than a thumb come loose, and take longer to cut and set than all the rest",
        'give a smaller tile for such a floor, a drain that needs fewer hips, or rules.falls = "accept"',
        _room(
            'outline = [[0, 0], [1700, 0], [1700, 1500], [0, 1500]]\ndrains = [{ kind = "gully", at = [850, 750] }]\n'
            'falls = [{ to = "gully 1", ratio = 30 }]'
        ),
    ),
    "perimeter-not-level": Code(
        "a drain cannot have a level perimeter, so the walls' line follows the planes",
        "note",
        "a drain at a wall or out of sight of one has no plane that leaves the walls level",
        "move the drain, or take the falling line of the walls as it is",
        _room(f'{_BOX}\ndrains = [{{ kind = "gully", at = [100, 1500] }}]\nfalls = [{{ to = "gully 1", ratio = 60 }}]'),
    ),
    "floor-without-fall": Code(
        "a part of the floor belongs to no fall",
        "look",
        "water there runs nowhere",
        "widen a region, or add a fall",
        _room(f'{_BOX}\n{_GULLY}\nfalls = [{{ to = "gully 1", ratio = 60, region = [[1000, 0], [3000, 0], [3000, 3000], [1000, 3000]] }}]'),
    ),
    "pond": Code(
        "water on the floor finds no falling way to a drain",
        "stop",
        "standing water is slippery, feeds mould and finds every fault of the membrane",
        "add a drain or a fall, open the kerb, or turn it",
        _room(
            f'{_BOX}\ndrains = [{{ kind = "gully", at = [1000, 1500] }}]\nfalls = [{{ to = "gully 1", ratio = 60 }}]\n'
            "plinths = [{ outline = [[2500, 0], [2600, 0], [2600, 3000], [2500, 3000]] }]"
        ),
    ),
    "step-in-floor": Code(
        "falls meet at different levels",
        "look",
        "a step in a wet floor trips people and holds water",
        "give both falls one level where they meet, or levels.steps = true if it is meant",
        _room(
            f'{_BOX}\ndrains = [{{ kind = "gully", at = [1000, 1500] }}, {{ kind = "gully", at = [3100, 1100] }}]\n'
            'falls = [{ to = "gully 2", drop = 200, region = [[2600, 600], [3600, 600], [3600, 1600], [2600, 1600]] }, '
            '{ to = "gully 1", ratio = 60, perimeter = "free" }]'
        ),
    ),
    "threshold-step": Code(
        "a threshold is not level, or not at the level wanted",
        "look",
        "a door needs a level line; a trolley feels three millimetres",
        'give the fall perimeter = "threshold", or mend the level of the door',
        _room(f'{_CHANNEL}\nopenings = [{{ wall = 1, offset = 500, width = 1000 }}]\nfalls = [{{ to = "channel 1", ratio = 60 }}]'),
    ),
    "screed-thin": Code(
        "the slab leaves no room for the screed",
        "stop",
        "a screed under its least thickness cracks and comes loose",
        "lower the slab, raise the floor, or flatten the fall",
        _room(f'{_BOX}\n{_GULLY}\nfalls = [{{ to = "gully 1", ratio = 60 }}]\nlevels = {{ slab = -50 }}'),
    ),
    "tile-over-hip": Code(
        "a tile laid over a hip or valley stands out by more than the limit",
        "look",
        "its corners stand up, catch feet and wheels, and hold water behind them",
        'give rules.falls = "cut", a smaller tile, or a flatter fall',
        _room(f'{_BOX}\n{_GULLY}\nfalls = [{{ to = "gully 1", ratio = 60 }}]', '[rules]\nfalls = "accept"'),
    ),
    "courses-moved": Code(
        "wall courses as wanted would taper to nothing along a falling floor",
        "note",
        "the bottom course is cut to the floor; begun on the line that was asked, it would run out to a sliver",
        "give another rules.datum_line, or take the courses as moved",
        _room(
            f'{_CHANNEL}\ntile_height = 2000\nfalls = [{{ to = "channel 1", ratio = 60 }}]',
            '[tiles.floor]\nthickness = 13\n[tiles.wall]\nsize = [150, 150]\njoint = 3\nleast_cut = 75\n[rules]\ncourses = "datum"\ndatum_line = 905',
        ),
    ),
    "joints-not-carried": Code(
        "upright joints of a wall cannot stand in line with the floor's",
        "note",
        "tiles of another module run out more with each tile",
        "give the wall a tile of the floor's module, or leave wall_joints balanced",
        _room(f"{_BOX}\ntile_height = 1500", '[tiles.wall]\nsize = [150, 150]\njoint = 3\n[rules]\nwall_joints = "floor"'),
    ),
    "joint-in-low-line": Code(
        "a movement joint lies in the low line of a fall",
        "stop",
        "all water of the floor stands on that sealant",
        "move the joint to a high line, or turn the falls",
        _room(
            f"{_LONG}\nstructural_joints = [{{ line = [[6000, 0], [6000, 4000]] }}]\n"
            "falls = [{ plane = [[0, 0, 0], [6000, 0, -100], [0, 1000, 0]], region = [[0, 0], [6000, 0], [6000, 4000], [0, 4000]] }, "
            "{ plane = [[12000, 0, 0], [6000, 0, -100], [12000, 1000, 0]], region = [[6000, 0], [12000, 0], [12000, 4000], [6000, 4000]] }]"
        ),
    ),
    "tanking-return": Code(
        "tape runs higher than one of two walls is tanked",
        "note",
        "upright tape goes to the higher of two heights and returns onto the low wall",
        "nothing; the return is measured and drawn",
        _room(f"{_BOX}\ntanking_height = 200\nwalls = [{{ wall = 2, tanking_height = 1800 }}]"),
    ),
    "corner-made": Code(
        "a corner of the tanking is made from tape",
        "note",
        "preformed pieces fit square corners only",
        "nothing; the pieces are counted and drawn",
        _room("outline = [[0, 0], [4000, 0], [2500, 3000], [0, 3000]]"),
    ),
    "detail-grouped": Code(
        "pipes, drains or corners so close that they are one detail",
        "note",
        "their collars overlap; they are sealed together, by hand",
        "move them apart, or plan time for the detail",
        _room(f"{_BOX}\npipes = [{{ at = [1500, 1500], diameter = 75 }}, {{ at = [1640, 1500], diameter = 75 }}]"),
    ),
    "flange-near-upstand": Code(
        "a drain's flange is nearer to an upstand than the stated distance",
        "look",
        "there is no room to lap the membrane onto the flange and up the wall",
        "move the drain from the wall, or take one with a wall flange",
        _room(f'{_BOX}\ndrains = [{{ kind = "gully", at = [400, 1500] }}]'),
    ),
    "membrane-thin": Code(
        "the coats dry to less than the least film",
        "stop",
        "a thin film does not bridge cracks and wears through",
        "give more per coat or another coat in [products]",
        _room(_BOX, "[products]\nmembrane_kg_m2 = 0.5"),
    ),
    **CODES_OF_WORKS,
    "tanking-low": Code(
        "tanking ends below the least height",
        "look",
        "splashed and standing water goes over its edge",
        "give tanking_height the least height that the finding names, or more",
        _room(f"{_BOX}\ntanking_height = 100"),
    ),
}
