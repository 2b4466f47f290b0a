"""The search for a layout.

`plan.plan` is the way in. Behind it, one idea a module:

params, stop    limits of a search
job, few        boards and parts made ready, as far as the search comes to look at them
memory          grounds and maps kept from one plan to the next
filling, slabs  what one board can be cut into with straight cuts, sawable by construction
slab_loops      the inner loops of these, compiled
views           the maps of a board as fillings ask them
nesting         the same for the band saw, any way the parts fit
construct       a first complete plan in milliseconds
improve         two walks of ruin and recreate: among all boards, and within a cheaper set
dense           fillings worth the most: slabs chosen by a beam search
columns         the cheapest shares of fillings, by a linear programme (GLOP)
market, pool    prices of parts and boards, fillings that pay at these prices (column generation)
dive            plans made of such shares, one whole filling at a time
targets         sets of boards cheaper than the best plan, tried one after the other
region          a few boards of a large plan as a job of their own
tidy            the later goals, with the boards settled
search          these stages in order
bound           what no layout can undercut: hopeful maps, and a store of area
outside         all that is known of what boards give at most, and the cheapest that might do (HiGHS),
cheapest        or, of few boards, by trying them
straight        what no plan with straight cuts in the shop's order can undercut; it asks
fields          for a board as a hopeful grid,
priced          what that is worth at prices of the parts (dynamic programmes over slabs),
counted         and which parts it can give at once, copies counted
sawn_out        the way back: where the parts of a set lie on a careful grid
worths          what boards are worth at prices, exactly or about
subsets         which boards cannot do together, at any prices
one_board       whether a board gives a set, place by place (CP-SAT), and
exactly         what that says of the boards of a small job, with or without a rule of cutting
within          plans of the class found on such grids, for the search beside
programme       the same asked of a constraint programme (CP-SAT), for small jobs
by_area         the weakest bound, where repairs or free stave widths leave no other
setwise         plans of boards asked set by set, the cheapest boards first, on
careful_board   careful grids, board by board, and
careful_boards  several of them, for sets that together make up all parts;
hands, spares   further processes that ask boards too, and such as wait loaded
steps           what is done in other processes beside the search:
prove, prover   all of these in a process of its own, and such processes seen from here;
beside          a second search, or, with repairs, the same one without any
result          a plan of fillings made into a Layout, exact to the hair
whynot          why a part has no place, and what would help
buying          the cheapest set at the yard, runners-up, what one more board would give
guillotine      exact values of single plates, straight cuts, for measuring
nested_plate    the same without a rule of cutting

The search runs on one core. The proof runs on a second one where the system has it,
from the start; of more than twenty pieces it looks for plans set by set as well, first
and once more later. Where a loaded process waits for that, boards are shared out with a
further one, and the search leaves its core to them until the first plans are told. A
plan that meets the bound ends the search early. A third core has a second search, and
so has the second one where nothing can be proved (more than twenty pieces sawn out
freely, few boards); all tell each other what they find. With `iterations` instead of
seconds nothing runs beside it, and the same seed gives the same plan.

Seams
-----
Repairs. `SolveParams.mending(board, part, defect, side)` prices making a defect
good on one side of a part; None says it cannot be made good there. Places where
every defect in the way has a price then count as allowed at that price: board
money still comes first, repair money second. `layout.clear.bars` says which
defects are to be made good at a place, side by side; `judged(..., mending)` gives
the exact price. `mended` plans with repairs round `plan.plan_sawn`.

Panels. `glued` plans a few settled sets of stave widths (`settled`) first, then
goes on with free ones: every width (`widths`) is a kind of part with a map of its
own (`strips`), and `family` counts down how much of a panel is still wanted.
`named` numbers the staves afterwards, `together` brings them onto one board.

Fixed things. `locked` placements are kept exactly and everything else is planned
round them; forbidden boards are left alone; `SolveParams.start` takes up an
earlier plan as far as it still holds.
"""
