#include "io/offscreen.hpp"

#ifdef TIDEMARK_EGL
#include <EGL/egl.h>
#include <EGL/eglext.h>

#include <array>
#endif

namespace tidemark {

#ifdef TIDEMARK_EGL

namespace {

/// One of Mesa that needs no window system, or whatever the machine has.
EGLDisplay display_without_screen() {
  const EGLDisplay display =
      eglGetPlatformDisplay(EGL_PLATFORM_SURFACELESS_MESA, EGL_DEFAULT_DISPLAY, nullptr);
  if (display != EGL_NO_DISPLAY && eglInitialize(display, nullptr, nullptr) == EGL_TRUE) {
    return display;
  }
  const EGLDisplay other = eglGetDisplay(EGL_DEFAULT_DISPLAY);
  const bool is_open =
      other != EGL_NO_DISPLAY && eglInitialize(other, nullptr, nullptr) == EGL_TRUE;
  return is_open ? other : EGL_NO_DISPLAY;
}

} // namespace

std::string open_offscreen() {
  const EGLDisplay display = display_without_screen();
  if (display == EGL_NO_DISPLAY) {
    return "EGL finds no driver for OpenGL";
  }
  const std::array<EGLint, 13> wanted = {EGL_SURFACE_TYPE,
                                         EGL_PBUFFER_BIT,
                                         EGL_RENDERABLE_TYPE,
                                         EGL_OPENGL_BIT,
                                         EGL_RED_SIZE,
                                         8,
                                         EGL_GREEN_SIZE,
                                         8,
                                         EGL_BLUE_SIZE,
                                         8,
                                         EGL_DEPTH_SIZE,
                                         24,
                                         EGL_NONE};
  EGLConfig config = nullptr;
  EGLint count = 0;
  if (eglBindAPI(EGL_OPENGL_API) != EGL_TRUE ||
      eglChooseConfig(display, wanted.data(), &config, 1, &count) != EGL_TRUE || count == 0) {
    return "EGL has no OpenGL";
  }
  const std::array<EGLint, 7> version = {EGL_CONTEXT_MAJOR_VERSION,
                                         3,
                                         EGL_CONTEXT_MINOR_VERSION,
                                         2,
                                         EGL_CONTEXT_OPENGL_PROFILE_MASK,
                                         EGL_CONTEXT_OPENGL_CORE_PROFILE_BIT,
                                         EGL_NONE};
  const EGLContext context = eglCreateContext(display, config, EGL_NO_CONTEXT, version.data());
  // A small surface of its own, for drivers that want one; VTK draws to buffers of its own.
  const std::array<EGLint, 5> small = {EGL_WIDTH, 16, EGL_HEIGHT, 16, EGL_NONE};
  const EGLSurface surface = eglCreatePbufferSurface(display, config, small.data());
  if (context == EGL_NO_CONTEXT || eglMakeCurrent(display, surface, surface, context) != EGL_TRUE) {
    return "EGL gives no OpenGL 3.2";
  }
  return "";
}

#else

std::string open_offscreen() {
  return "this program was built without EGL";
}

#endif

} // namespace tidemark
