// The pen for every picture. Colours are presentation attributes, so that a picture stands alone and comes out of every
// printer; the class names let a style sheet repaint it for a dark screen.
#pragma once

#include <string>
#include <string_view>

namespace switchwright::svg {

/// How something is painted; the names are the class names in the style sheet.
enum class Paint {
  ink,
  muted,
  paper,
  cell,
  band,
  grid,
  frame,
  pass,
  fail,
  fail_cell,
  undecided,
  not_sound,
  trace,
  envelope,
  on,
  level,
  reference,
  mark,
  gap,
};
/// The same colours for a dark screen, as rules of a style sheet.
extern const char* const dark_repaint;

std::string fill(Paint paint);                  ///< class and fill attributes
std::string stroke(Paint paint, double width);  ///< class, stroke and stroke-width attributes, no fill

struct TextStyle {
  double size = 13;
  const char* anchor = "start";
  bool bold = false;
  Paint paint = Paint::ink;
};

struct Titles {
  std::string name;  ///< unique in the page
  std::string title;
  std::string description;  ///< what the picture shows, for who cannot see it; may be empty
};

class Drawing {
 public:
  explicit Drawing(double width) : width_(width) {}
  Drawing(std::string name, double width, std::string title, std::string description);

  void text(double x, double y, std::string_view words, TextStyle style = {});
  void line(double x1, double y1, double x2, double y2, Paint paint, double width = 1, const char* more = "");
  void rect(double x, double y, double w, double h, const std::string& paint, double radius = 0);
  void circle(double x, double y, double r, const std::string& paint);
  void path(const std::string& d, const std::string& paint);
  /// Diagonal lines, for what is undecided.
  std::string hatch() const;
  std::string finish(double height) const { return finish(height, titles_); }
  /// Without the empty space above `top`.
  std::string finish_from(double top, double height) const;
  /// For a page, with titles that were not known at the beginning.
  std::string finish(double height, const Titles& titles) const;
  /// A file of its own: on paper-coloured ground, repainted on a dark screen.
  std::string document(double height, const Titles& titles) const;

 private:
  double width_;
  Titles titles_;
  std::string body_;
};

/// A mark that says how a reading was judged, centred at (x, y), about 16 units wide.
void pass_mark(Drawing& drawing, double x, double y);
void fail_mark(Drawing& drawing, double x, double y);
void undecided_mark(Drawing& drawing, double x, double y);
void not_sound_mark(Drawing& drawing, double x, double y);

/// What was read, drawn as a contact about 36 units wide, its middle at (x, y).
void closed_symbol(Drawing& drawing, double x, double y, Paint paint);
void open_symbol(Drawing& drawing, double x, double y, Paint paint);
void element_symbol(Drawing& drawing, double x, double y, Paint paint);

/// "14.40 kohm" -> "14.40 k\u03A9", for numbers of our own making.
std::string with_ohm_sign(std::string text);
/// The signs of a page inside a sentence of ours: the ohm sign, plus-minus, degrees Celsius.
std::string with_signs(std::string sentence);

}  // namespace switchwright::svg
