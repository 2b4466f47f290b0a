r"""A seeded model of a log, boards sawn from it, and a camera that photographs them.

Everything about a board is known exactly: both faces, its edges, and the
outline, face and depth of every fault, because all are read from one solid::

    species   how a wood looks                knots    branches: cones from the pith
    log       rings, pith, sapwood, bark      faults   solids: knots, checks, splits, shakes, pockets, stains
    sawn      a board is a box in a log       truth    its outlines and faults, as `layout.stock` knows them
    surface   colour of clear wood on a cut   paint    faults on it         finish  saw, dust, pencil, chalk
    picture   faces and edges at true scale, with the class of every pixel
    ground, light, camera   a photograph of a board on the bench, and where everything is in it
    stock     random but plausible logs and boards
    training  an endless stream of pictures for whoever learns from them

A log's cross-section, seen from its butt; the board's y runs in the direction
`turn`, z from its front face towards the pith (for boards made by `stock.board_at`)::

             bark side
          .-----------.                         +----> u
        .'  front z=0  '.                       |
       / +-------------+ \                      v  (v)
      |  |   board     |  |
      |  +-------------+  |     rho: distance from the pith as the tree grew,
       \      x pith     /      not as the crow flies
        '.             .'
          '-----------'

What it does not model: boards that are crooked, cupped or twisted; wet wood.
"""
