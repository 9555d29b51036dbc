// Flat disc of 0.5 m radius with a point at its centre, in mm.
//   gmsh -2 -bin -format msh41 disc.geo -o disc.msh
radius = 500;
size = 9;
Point(1) = {0, 0, 0, size};
For i In {0 : 3}
  Point(2 + i) = {radius * Cos(i * Pi / 2), radius * Sin(i * Pi / 2), 0, size};
EndFor
For i In {0 : 3}
  Circle(1 + i) = {2 + i, 1, 2 + (i + 1) % 4};
EndFor
Curve Loop(1) = {1, 2, 3, 4};
Plane Surface(1) = {1};
Point{1} In Surface{1};
Physical Surface("disc") = {1};
Physical Curve("rim") = {1, 2, 3, 4};
Physical Point("centre") = {1};
Mesh.Algorithm = 6;
