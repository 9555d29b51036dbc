# Writes a C++ source that holds text files as string literals.
#   cmake -DOUTPUT=FILE -DASSETS="name=file;name=file" -P embed.cmake
set(text "// Made from the files of io/report and two libraries; see CMakeLists.txt.\n#include \"io/report_assets.hpp\"\n\nnamespace tidemark::report_assets {\n\n")
foreach(asset IN LISTS ASSETS)
  string(REGEX MATCH "^([a-z0-9_]+)=(.*)$" matched "${asset}")
  set(name "${CMAKE_MATCH_1}")
  file(READ "${CMAKE_MATCH_2}" content)
  string(APPEND text "const std::string_view ${name} = R\"end_of_asset(${content})end_of_asset\";\n\n")
endforeach()
string(APPEND text "} // namespace tidemark::report_assets\n")
file(WRITE "${OUTPUT}" "${text}")
