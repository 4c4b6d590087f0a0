"""Cut a building model to what the tests need: ``python shorten.py IN.ifc OUT.ifc IfcSpace IfcDoor ...``.

Kept: the storeys, the elements of the kinds that are named, with their geometry, and the openings in walls.
Not kept: properties, materials, furniture, surfaces. What is kept is as it was, but for entities' numbers.
"""

import sys

import ifcopenshell


def shorten(source: str, target: str, kinds: list[str]) -> None:
    """Write the shortened model."""
    model = ifcopenshell.open(source)
    short = ifcopenshell.file(schema=model.schema_identifier)
    kept = {
        one.id()
        for kind in (*kinds, "IfcProject", "IfcSpatialStructureElement")
        for one in model.by_type(kind)
    }
    for one in model.by_type("IfcRelVoidsElement"):
        if one.RelatingBuildingElement.id() in kept:
            kept |= {one.id(), one.RelatedOpeningElement.id()}
    for number in sorted(kept):
        short.add(model.by_id(number))
    for kind, many in (
        ("IfcRelAggregates", "RelatedObjects"),
        ("IfcRelContainedInSpatialStructure", "RelatedElements"),
    ):
        for relation in model.by_type(kind):
            parts = [one for one in getattr(relation, many) if one.id() in kept]
            whole = relation[5] if many == "RelatedElements" else relation.RelatingObject
            if parts and whole.id() in kept:
                parts = [short.add(one) for one in parts]
                values = (
                    relation.GlobalId,
                    short.add(relation.OwnerHistory) if relation.OwnerHistory else None,
                )
                both = (parts, short.add(whole)) if many == "RelatedElements" else (short.add(whole), parts)
                short.create_entity(kind, *values, None, None, *both)
    short.write(target)


if __name__ == "__main__":
    shorten(sys.argv[1], sys.argv[2], sys.argv[3:])
