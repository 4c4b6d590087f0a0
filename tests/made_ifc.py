"""A building model whose truth is known: homes of two rooms along a hallway, a stair and pipes."""

from __future__ import annotations

WIDE, DEEP, BATH, HALL, HIGH = 8.0, 6.0, 2.5, 2.0, 3.0
"""Metres of a home along the hallway and away from it, of its bathroom, of the hallway, and of a storey."""
WALL = 0.2


def new():
    """Return a new id of a part."""
    from ifcopenshell.guid import new as made

    return made()


class Model:
    """Floors of ``across`` homes on both sides of a hallway that runs along x; rooms stand ``WALL`` apart."""

    def __init__(self, floors=2, across=2, *, schema="IFC4", zones=False, millimetres=False, north=None):
        import ifcopenshell

        self.file = ifcopenshell.file(schema=schema)
        self.size = 1000.0 if millimetres else 1.0
        self.rooms = {}
        make = self.make
        units = [
            make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE", Prefix="MILLI" if millimetres else None)
        ]
        toward = make("IfcDirection", DirectionRatios=north) if north else None
        place = self.axis(0, 0, 0)
        self.context = make(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-5,
            WorldCoordinateSystem=place,
            TrueNorth=toward,
        )
        project = make(
            "IfcProject",
            GlobalId=new(),
            Name="Made",
            RepresentationContexts=[self.context],
            UnitsInContext=make("IfcUnitAssignment", Units=units),
        )
        building = make("IfcBuilding", GlobalId=new(), Name="Made", CompositionType="ELEMENT")
        self.within(project, [building])
        self.storeys = [
            make(
                "IfcBuildingStorey",
                GlobalId=new(),
                Name=f"Level {floor}",
                CompositionType="ELEMENT",
                Elevation=(floor - 1) * HIGH * self.size,
                ObjectPlacement=make(
                    "IfcLocalPlacement", RelativePlacement=self.axis(0, 0, (floor - 1) * HIGH)
                ),
            )
            for floor in range(1, floors + 1)
        ]
        self.within(building, self.storeys)
        long = across * (WIDE + WALL)
        for floor, storey in enumerate(self.storeys, start=1):
            z = (floor - 1) * HIGH
            hall = self.space(storey, f"H{floor}", "Corridor", (0, 0, long, HALL), z)
            stair = self.space(storey, f"S{floor}", "Stair", (-3 - WALL, 0, -WALL, HALL), z)
            self.door(storey, -WALL / 2, HALL / 2, z)
            made = [hall, stair]
            for place in range(2 * across):
                column, upper = place % across, place >= across
                x0 = column * (WIDE + WALL)
                y0, y1 = (HALL + WALL, HALL + WALL + DEEP) if upper else (-WALL - DEEP, -WALL)
                code = f"{floor}{place + 1:02d}"
                living = self.space(
                    storey, f"{code}.1", "Living room", (x0, y0, x0 + WIDE - BATH - WALL, y1), z
                )
                bath = self.space(storey, f"{code}.2", "Bathroom", (x0 + WIDE - BATH, y0, x0 + WIDE, y1), z)
                self.door(storey, x0 + WIDE - BATH - WALL / 2, (y0 + y1) / 2, z)
                self.door(storey, x0 + 2, HALL + WALL / 2 if upper else -WALL / 2, z)
                self.rooms[code] = (living, bath)
                made += [living, bath]
                if zones:
                    zone = make("IfcZone", GlobalId=new(), Name=f"Flat {code}")
                    related = {"RelatedObjects": [living, bath], "RelatingGroup": zone}
                    make("IfcRelAssignsToGroup", GlobalId=new(), **related)
            self.within(storey, made)
        for x in (WIDE - 1.0, 2 * WIDE - 1.0)[:across]:
            for floor in range(floors):
                self.solid(
                    "IfcPipeSegment" if schema != "IFC2X3" else "IfcFlowSegment",
                    (x, 5, x + 0.1, 5.1),
                    floor * HIGH,
                    HIGH,
                )
        self.solid(
            "IfcPipeSegment" if schema != "IFC2X3" else "IfcFlowSegment", (0, 3, 4, 3.1), 1.0, 0.1
        )  # lies flat

    def make(self, kind, **values):
        return self.file.create_entity(kind, **values)

    def point(self, *at):
        return self.make("IfcCartesianPoint", Coordinates=[float(one) * self.size for one in at])

    def axis(self, *at):
        return self.make("IfcAxis2Placement3D", Location=self.point(*at))

    def within(self, whole, parts):
        self.make("IfcRelAggregates", GlobalId=new(), RelatingObject=whole, RelatedObjects=parts)

    def solid(self, kind, box, z, high, **values):
        x0, y0, x1, y1 = box
        ring = [self.point(*at) for at in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))]
        profile = self.make(
            "IfcArbitraryClosedProfileDef",
            ProfileType="AREA",
            OuterCurve=self.make("IfcPolyline", Points=ring),
        )
        up = self.make("IfcDirection", DirectionRatios=(0.0, 0.0, 1.0))
        body = self.make(
            "IfcExtrudedAreaSolid",
            SweptArea=profile,
            Position=self.axis(0, 0, z),
            ExtrudedDirection=up,
            Depth=high * self.size,
        )
        shape = self.make(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier="Body",
            RepresentationType="SweptSolid",
            Items=[body],
        )
        return self.make(
            kind,
            GlobalId=new(),
            ObjectPlacement=self.make("IfcLocalPlacement", RelativePlacement=self.axis(0, 0, 0)),
            Representation=self.make("IfcProductDefinitionShape", Representations=[shape]),
            **values,
        )

    def space(self, storey, name, word, box, z, high=HIGH - 0.3):
        return self.solid("IfcSpace", box, z, high, Name=name, LongName=word, CompositionType="ELEMENT")

    def door(self, storey, x, y, z):
        made = self.solid("IfcDoor", (x - 0.4, y - 0.1, x + 0.4, y + 0.1), z, 2.1)
        related = {"RelatedElements": [made], "RelatingStructure": storey}
        self.make("IfcRelContainedInSpatialStructure", GlobalId=new(), **related)
        return made

    def bytes(self):
        return self.file.to_string().encode("latin-1")
