// Hemispherical shell of 0.5 m radius, rim in z = 0, in mm.
//   gmsh -2 -bin -format msh41 hemisphere.geo -o hemisphere.msh
radius = 500;
size = 15;
Point(1) = {0, 0, 0, size}; // centre of the sphere: not part of the mesh
Point(2) = {0, 0, radius, size};
For i In {0 : 3}
  Point(3 + i) = {radius * Cos(i * Pi / 2), radius * Sin(i * Pi / 2), 0, size};
EndFor
For i In {0 : 3}
  Circle(1 + i) = {3 + i, 1, 3 + (i + 1) % 4}; // the rim
  Circle(11 + i) = {3 + i, 1, 2};              // up to the pole
EndFor
For i In {0 : 3}
  Curve Loop(1 + i) = {1 + i, 11 + (i + 1) % 4, -(11 + i)};
  Surface(1 + i) = {1 + i} In Sphere {1};
EndFor
Physical Surface("shell") = {1 : 4};
Physical Curve("rim") = {1 : 4};
Physical Point("pole") = {2};
Mesh.Algorithm = 6;
