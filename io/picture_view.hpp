// From where a part is looked at, and where its points come to lie on a picture.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <string>

namespace tidemark {

/// Three unit vectors at right angles: where right and up in the picture point on the part, and the
/// direction to the eye. right x up = toward, so nothing is mirrored.
struct PictureView {
  Vector3 right;
  Vector3 up;
  Vector3 toward;
};

/// From the side on which the part shows most of its surface, tilted a little if it is not flat, so
/// that what stands up can be seen. The long side lies across; of the two sides the one towards
/// +z, else +y, else +x. Precondition: the mesh has elements.
PictureView default_view(const ShellMesh& mesh);

/// From where a direction points, with z up (y, where one looks along z). Precondition: the
/// direction is not zero.
PictureView view_from(const Vector3& direction);

/// A place on a picture in pixels, from its lower left corner.
struct Pixel {
  double x;
  double y;
};

struct PixelBox {
  double left;
  double bottom;
  double right;
  double top;
};

/// Parallel projection: pixel = centre_pixel + scale (right . d, up . d), d = point - centre.
struct Projection {
  PictureView view;
  Vector3 centre; // [m]
  Pixel centre_pixel;
  double scale; // pixels per metre
  [[nodiscard]] Pixel operator()(const Vector3& point) const;
};

/// The part as large as the box allows, in its middle.
Projection projection_into(const PixelBox& box, const ShellMesh& mesh, const PictureView& view);

struct ScaleBar {
  double length; // [m]: 1, 2 or 5 times a power of ten
  std::string text;
};

/// The longest round length that takes no more than so many pixels; "200 mm", "1 m".
ScaleBar scale_bar(double pixels_per_metre, double most_pixels);

} // namespace tidemark
