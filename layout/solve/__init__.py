"""The search for a layout.

`plan.plan` is the way in. Behind it, one idea a module:

params, stop    limits of a search
job             boards and parts made ready: ground and clear maps
filling         what one board can be cut into, sawable by construction
construct       a first complete plan in milliseconds
improve         ruin and recreate, whole boards at a time
result          a plan of fillings made into a Layout, exact to the hair
"""
