// A picture drawn by VTK.
#pragma once

#include "io/picture.hpp"
#include "io/picture_view.hpp"

#include <string>

namespace tidemark {

struct PictureSize {
  int width = 1600;
  int height = 1000;
};

/// The box that the part is fitted into, between the titles, the explanations and the scale bar.
PixelBox part_box(const PictureSize& size);

/// The picture as a PNG file. Needs a context of OpenGL that is current in this thread
/// (open_offscreen). Throws std::runtime_error if VTK cannot draw.
std::string png_of(const Picture& picture, const ShellMesh& mesh, const PictureView& view,
                   const PictureSize& size = {});

} // namespace tidemark
