// Cab roof of an orchard tractor: the middle surface of the mould cavity, in mm.
//   gmsh -2 -bin -format msh41 roof.geo -o roof.msh
// x forward, y to the left, z up; the flange lies in z = 0.
SetFactory("OpenCASCADE");

length = 1600;        // over the flange
width = 1300;
flange = 50;          // width of the flange
corner = 210;         // plan radius of the flange corners
draft = 26;           // the walls lean in by this much over the height `tall` ...
tall = 260;           // ... of the blank the dome is cut from
crown = 140;          // height of the dome above the flange
dome_radius = 6000;
edge_radius = 50;     // dome to wall
foot_radius = 14;     // wall to flange
fin_side = 300;       // the ribs stand in the planes y = +-fin_side
fin_half = 520;       // half the length of a rib at its foot
fin_height = 45;
fin_ramp = 100;       // length of the sloping ends of a rib
vent_x = -92;         // the vent port on the dome, where the resin comes last
vent_radius = 7.98;   // just inside 8 mm, so that a port of 8 mm takes this circle whatever the round-off
crest_vent_x = -90;   // the vents on the crests of the ribs
size = 12.6;          // element size
vent_size = 2.6;      // element size at the vent port
tiny = 1;

// The blank: a tapered block with rounded corners, cut by the sphere of the dome, standing on a
// plate whose upper face is the flange.
a = length / 2 - flange;
b = width / 2 - flange;
Rectangle(1) = {-a, -b, 0, 2 * a, 2 * b, corner - flange};
Rectangle(2) = {-a + draft, -b + draft, tall, 2 * (a - draft), 2 * (b - draft), corner - flange - draft};
Curve Loop(11) = Boundary{ Surface{1}; };
Curve Loop(12) = Boundary{ Surface{2}; };
Ruled ThruSections(1) = {11, 12};
Sphere(2) = {0, 0, crown - dome_radius, dome_radius};
Rotate {{0, 1, 0}, {0, 0, crown - dome_radius}, Pi / 2} { Volume{2}; } // poles and seam away from the dome
BooleanIntersection(3) = { Volume{1}; Delete; }{ Volume{2}; Delete; };
Recursive Delete { Surface{1, 2}; }
plate = newreg;
Rectangle(plate) = {-length / 2, -width / 2, -30, length, width, corner};
block() = Extrude {0, 0, 30} { Surface{plate}; };
BooleanUnion(10) = { Volume{3}; Delete; }{ Volume{block(1)}; Delete; };

// Round the edge between dome and walls (the curves above the flange that are not the walls' upright
// edges, which begin in its plane) and the one between walls and flange.
rim() = Curve In BoundingBox {-a, -b, tiny, a, b, tall};
Fillet{10}{rim()}{edge_radius}
solid() = Volume "*";
foot() = Curve In BoundingBox {-a - tiny, -b - tiny, -tiny, a + tiny, b + tiny, tiny};
Fillet{solid(0)}{foot()}{foot_radius}

// Only the skin of the solid is the part: drop the volume, then the sides and underside of the plate.
solid() = Volume "*";
Delete { Volume{solid()}; }
all() = Surface "*";
half_l = length / 2 + tiny;
half_w = width / 2 + tiny;
under() = {};
For i In {0 : #all() - 1}
  box() = BoundingBox Surface{all(i)};
  If (box(2) < -tiny)
    under() += all(i);
  EndIf
EndFor
Recursive Delete { Surface{under()}; }
shell() = Surface "*";

// A rib: its foot lies a little below the dome and is trimmed there. The crest runs parallel to the
// dome and the ends slope down, so that resin climbing the rib shuts no air in at its ends.
ribs() = {};
centre = crown - dome_radius;
For side In {-1 : 1 : 2}
  y = side * fin_side;
  foot_end = centre + Sqrt(dome_radius^2 - fin_side^2 - fin_half^2);
  crest_x = fin_half - fin_ramp;
  crest = centre + Sqrt((dome_radius + fin_height)^2 - fin_side^2 - crest_x^2);
  slope = (crest - foot_end) / fin_ramp;
  p = newp;
  Point(p) = {-fin_half - 10, y, foot_end - 10 * slope};
  Point(p + 1) = {-crest_x, y, crest};
  Point(p + 2) = {0, y, centre};
  Point(p + 3) = {crest_x, y, crest};
  Point(p + 4) = {fin_half + 10, y, foot_end - 10 * slope};
  c = newc;
  Line(c) = {p, p + 1};
  Circle(c + 1) = {p + 1, p + 2, p + 3};
  Line(c + 2) = {p + 3, p + 4};
  Line(c + 3) = {p + 4, p};
  Curve Loop(c + 4) = {c, c + 1, c + 2, c + 3};
  Plane Surface(c + 5) = {c + 4};
  Recursive Delete { Point{p + 2}; }
  ribs() += c + 5;
EndFor

// The vent port: its middle and its circle, pressed into the dome; a vent on the crest of each rib; the
// gate, in the middle of the front edge of the flange.
port_z = centre + Sqrt(dome_radius^2 - vent_x^2);
port = newp;
Point(port) = {vent_x, 0, port_z};
ring = newc;
Circle(ring) = {vent_x, 0, port_z - 10, vent_radius};
tube() = Extrude {0, 0, 20} { Curve{ring}; };
crest_z = centre + Sqrt((dome_radius + fin_height)^2 - fin_side^2 - crest_vent_x^2);
crest_vent = newp;
Point(crest_vent) = {crest_vent_x, fin_side, crest_z};
Point(crest_vent + 1) = {crest_vent_x, -fin_side, crest_z};
gate = newp;
Point(gate) = {length / 2, 0, 0};

BooleanFragments{ Surface{shell()}; Delete; }{
  Surface{ribs(), tube(1)}; Point{port, crest_vent, crest_vent + 1, gate}; Delete;
}

// Sort the pieces into groups. What of ribs and port lies inside the dome, or of the port above it,
// was a tool only and goes.
waste() = {};
in_skin() = {};
in_ribs() = {};
in_flange() = {};
pieces() = Surface "*";
For i In {0 : #pieces() - 1}
  box() = BoundingBox Surface{pieces(i)};
  is_rib = (box(4) - box(1) < tiny && Fabs(Fabs(box(1)) - fin_side) < tiny);
  is_tube = (Fabs(box(0) + box(3) - 2 * vent_x) < tiny && box(3) - box(0) < 3 * vent_radius &&
             box(5) - box(2) > tiny);
  If (is_tube || (is_rib && box(5) < crown))
    waste() += pieces(i);
  ElseIf (is_rib)
    in_ribs() += pieces(i);
  ElseIf (box(5) < foot_radius + tiny)
    in_flange() += pieces(i);
  Else
    in_skin() += pieces(i);
  EndIf
EndFor
Recursive Delete { Surface{waste()}; }
Physical Surface("skin") = {in_skin()};
Physical Surface("ribs") = {in_ribs()};
Physical Surface("flange") = {in_flange()};

// Named points and lines. Points were renumbered by the cutting: find them by place.
Macro PointAt // in: at_x, at_y, at_z; out: found
  near() = Point In BoundingBox {at_x - tiny, at_y - tiny, at_z - tiny, at_x + tiny, at_y + tiny, at_z + tiny};
  found = near(0);
Return
at_x = vent_x; at_y = 0; at_z = port_z;
Call PointAt;
Physical Point("vent port") = {found};
port = found;
at_x = crest_vent_x; at_y = fin_side; at_z = crest_z;
Call PointAt;
Physical Point("left rib vent") = {found};
at_y = -fin_side;
Call PointAt;
Physical Point("right rib vent") = {found};
at_x = length / 2; at_y = 0; at_z = 0;
Call PointAt;
Physical Point("gate port") = {found};

// The edge of the flange: the straight part at the back, and the rest, along which the runner lies.
in_plane() = Curve In BoundingBox {-half_l, -half_w, -tiny, half_l, half_w, tiny};
rear() = {};
runner() = {};
For i In {0 : #in_plane() - 1}
  box() = BoundingBox Curve{in_plane(i)};
  If (box(3) < tiny - length / 2)
    rear() += in_plane(i);
  ElseIf (box(0) < tiny - length / 2 || box(1) < tiny - width / 2 || box(3) > length / 2 - tiny ||
          box(4) > width / 2 - tiny)
    runner() += in_plane(i);
  EndIf
EndFor
Physical Curve("rear edge") = {rear()};
Physical Curve("runner edge") = {runner()};

// Element size: finer towards the vent port.
Mesh.MeshSizeFromPoints = 0;
Mesh.MeshSizeFromCurvature = 0;
Mesh.MeshSizeExtendFromBoundary = 0;
Field[1] = Distance;
Field[1].PointsList = {port};
Field[2] = Threshold;
Field[2].InField = 1;
Field[2].SizeMin = vent_size;
Field[2].SizeMax = size;
Field[2].DistMin = vent_radius;
Field[2].DistMax = 10 * vent_radius;
Background Field = 2;
Mesh.Algorithm = 6; // frontal
Mesh.Smoothing = 5;
