// Flat elliptical plate with an elliptical gate opening, both with the axis ratio sqrt(K1 / K2) = 2
// and the long axis turned 30 degrees from x, in mm.
//   gmsh -2 -bin -format msh41 ellipse.geo -o ellipse.msh
turn = 30 * Pi / 180;
ratio = 2;                           // sqrt(K1 / K2)
gate = 10;                           // radius of the circles with the same areas
plate = 250;
gate_size = 1;
plate_size = 6.5;

Point(1) = {0, 0, 0};
Macro Oval // in: radius, size, p, c
  major = radius * Sqrt(ratio);
  minor = radius / Sqrt(ratio);
  Point(p) = {major * Cos(turn), major * Sin(turn), 0, size};
  Point(p + 1) = {-minor * Sin(turn), minor * Cos(turn), 0, size};
  Point(p + 2) = {-major * Cos(turn), -major * Sin(turn), 0, size};
  Point(p + 3) = {minor * Sin(turn), -minor * Cos(turn), 0, size};
  Ellipse(c) = {p, 1, p, p + 1};
  Ellipse(c + 1) = {p + 1, 1, p + 2, p + 2};
  Ellipse(c + 2) = {p + 2, 1, p + 2, p + 3};
  Ellipse(c + 3) = {p + 3, 1, p, p};
  Curve Loop(c) = {c, c + 1, c + 2, c + 3};
Return
radius = gate; size = gate_size; p = 11; c = 11;
Call Oval;
radius = plate; size = plate_size; p = 21; c = 21;
Call Oval;
Plane Surface(1) = {21, 11};
Physical Surface("plate") = {1};
Physical Curve("gate edge") = {11, 12, 13, 14};
Physical Curve("rim") = {21, 22, 23, 24};
Mesh.Algorithm = 6;
