// Tailboard of a light trailer, unrolled: edge, sandwich, hem one behind the other, in mm.
//   gmsh -2 -bin -format msh41 tailboard.geo -o tailboard.msh
width = 300;
size = 10;
at() = {0, 250, 850, 1000};
For i In {0 : 3}
  Point(2 * i + 1) = {at(i), 0, 0, size};
  Point(2 * i + 2) = {at(i), width, 0, size};
  Line(10 + i) = {2 * i + 1, 2 * i + 2}; // across
EndFor
For i In {0 : 2}
  Line(20 + i) = {2 * i + 1, 2 * i + 3};
  Line(30 + i) = {2 * i + 2, 2 * i + 4};
  Curve Loop(40 + i) = {20 + i, 11 + i, -(30 + i), -(10 + i)};
  Plane Surface(i + 1) = {40 + i};
EndFor
Physical Surface("edge") = {1};
Physical Surface("sandwich") = {2};
Physical Surface("hem") = {3};
Physical Curve("lower end") = {10};
Physical Curve("end of edge") = {11};
Physical Curve("end of sandwich") = {12};
Physical Curve("upper end") = {13};
Mesh.Algorithm = 6;
