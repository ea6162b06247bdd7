// The live screen of a trace, redrawn whole a few times a second; the terminal's own scrollback is left
// alone.
#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <deque>
#include <map>

#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/view/trace_views.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright::cli {

void BlockTrace::add(double t_s, double value, double resolution) {
  if (points_.size() >= most) points_.erase(points_.begin(), points_.begin() + most / 2);
  points_.push_back({t_s, value});
  if (in_block_ == 0 && whole_.size() >= most) {
    for (std::size_t i = 0; i < most / 2; ++i)
      whole_[i] = {whole_[2 * i].t_s, std::max(whole_[2 * i].value, whole_[2 * i + 1].value)};
    whole_.resize(most / 2);
    block_ *= 2;
  }
  if (in_block_ == 0)
    whole_.push_back({t_s, std::abs(value)});
  else
    whole_.back().value = std::max(whole_.back().value, std::abs(value));
  in_block_ = (in_block_ + 1) % block_;
  least_top_ = std::max(least_top_, 100.0 * resolution);
}

std::string BlockTrace::row(std::size_t columns, double from_s, double to_s, bool blocks) const {
  static constexpr std::array<const char*, 9> heights{" ",      "\u2581", "\u2582", "\u2583", "\u2584",
                                                      "\u2585", "\u2586", "\u2587", "\u2588"};
  static constexpr std::array<const char*, 9> plain{" ", "_", "_", ".", "-", "-", "=", "#", "#"};
  std::vector<double> tops(columns, -1.0);
  double top = least_top_;
  if (to_s > from_s && !points_.empty()) {
    const std::vector<Point>& points = from_s < points_.front().t_s ? whole_ : points_;
    const auto column = [&](double t_s) {
      return std::min(columns - 1,
                      static_cast<std::size_t>((t_s - from_s) / (to_s - from_s) * static_cast<double>(columns)));
    };
    const double usual_s = (points.back().t_s - points.front().t_s) / static_cast<double>(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Point& point = points[i];
      if (point.t_s < from_s || point.t_s > to_s) continue;
      const double next_s = i + 1 < points.size() ? points[i + 1].t_s : to_s;
      const std::size_t first = column(point.t_s);
      std::size_t last = first;
      if (next_s - point.t_s < 5.0 * usual_s && next_s <= to_s) last = std::max(first + 1, column(next_s)) - 1;
      for (std::size_t c = first; c <= last; ++c) tops[c] = std::max(tops[c], std::abs(point.value));
      top = std::max(top, std::abs(point.value));
    }
  }
  std::string row;
  for (const double value : tops) {
    const auto level = value < 0.0 ? 0 : top > 0.0 ? 1 + static_cast<std::size_t>(value / top * 7.0 + 0.5) : 1;
    row += (blocks ? heights : plain)[std::min<std::size_t>(level, 8)];
  }
  return row;
}

namespace {

class ScreenView final : public TraceView {
 public:
  explicit ScreenView(const TraceSession& session) : session_(session), blocks_(speaks_utf8()) {
    put("\x1b[2J\x1b[?25l");
  }
  ~ScreenView() override {
    try {
      put("\x1b[?25h");
      put_line("");
    } catch (const std::exception&) {
      // Nobody looks any more.
    }
  }

  void on(const TraceEvent& event, Instant) override {
    if (const auto* e = std::get_if<TraceOpened>(&event)) opened_ = *e;
    if (const auto* e = std::get_if<SampleTaken>(&event))
      if (e->sample.state == ReadingState::finite) {
        traces_[e->sample.channel].add(e->sample.t_s, e->sample.value, e->sample.resolution);
        last_s_ = std::max(last_s_, e->sample.t_s);
        quantities_[e->sample.channel] = e->quantity;
      }
    if (const auto* e = std::get_if<CycleSeen>(&event)) {
      cycles_.push_back({e->name, e->cycle});
      if (cycles_.size() > 200) cycles_.pop_front();
    }
    if (const auto* e = std::get_if<Reconsidered>(&event))
      cycles_.erase(std::remove_if(cycles_.begin(), cycles_.end(), [&](const Seen& s) { return s.name == e->name; }),
                    cycles_.end());
    if (const auto* e = std::get_if<TraceNote>(&event))
      if (e->kind != "overdue") message_ = e->text;  // that one stands above as long as it is true
    if (const auto* e = std::get_if<TraceEnded>(&event)) {
      over_ = true;
      put_line("\x1b[2J\x1b[H" + terminal_safe(e->text) + "\n");
    }
    if (const auto* e = std::get_if<TraceJudged>(&event)) put(judged_words(*e));
  }

  void key(char key) override {
    if (key == 'w' || key == 'W') whole_ = !whole_;
  }

  void tick() override {
    if (!over_ && opened_ && ++ticks_ % 2 == 0) draw();
  }

 private:
  struct Seen {
    std::string name;
    Cycle cycle;
  };
  struct Size {
    std::size_t columns = 80, rows = 24;
  };

  static Size terminal_size() {
    winsize size{};
    if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 20 && size.ws_row > 8)
      return {size.ws_col, size.ws_row};
    return {};
  }
  static std::string paint(const std::string& text, const char* code) {
    return colour() ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : text;
  }
  static std::string padded(const std::string& text, std::size_t width) {
    const std::size_t has = width_of(text);
    return has >= width ? text : text + std::string(width - has, ' ');
  }

  /// At blanks, so that no message is cut in the middle.
  static std::vector<std::string> wrapped(const std::string& text, std::size_t columns) {
    std::vector<std::string> lines{""};
    std::size_t at = 0;
    while (at < text.size()) {
      const std::size_t end = std::min(text.find(' ', at), text.size());
      const std::string word = text.substr(at, end - at);
      if (!lines.back().empty() && width_of(lines.back()) + 1 + width_of(word) > columns) lines.emplace_back();
      lines.back() += (lines.back().empty() ? "" : " ") + word;
      at = end + 1;
    }
    return lines;
  }

  static std::string seconds(double s) { return s < 100.0 ? fmt::format("{:.2f} s", s) : human_seconds(s); }

  static std::string state_words(const TraceSession::ChannelView& view) {
    if (!view.trouble.empty()) return paint(padded("NO DATA", 10), "1;31");
    if (!view.last) return padded("waiting", 10);
    // Before two levels are known the sample itself says what it is.
    if (!view.high) return view.live ? paint(padded("live", 10), "1;32") : paint(padded("dead", 10), "1");
    return *view.high ? paint(padded("ON", 10), "1;32") : paint(padded("off", 10), "1");
  }

  void draw() {
    const Size size = terminal_size();
    std::vector<std::string> lines;
    const RecordHeader& header = opened_->header;
    lines.push_back(
        fmt::format("{} {}  {} at {}{}", header.part.empty() ? "part" : terminal_safe(header.part),
                    terminal_safe(header.serial), header.profile_id, opened_->setup.position,
                    opened_->setup.setting.empty() ? "" : " (" + terminal_safe(opened_->setup.setting) + ")"));
    std::string time = "running " + human_seconds(session_.elapsed_s());
    if (const auto to_go = session_.to_go_s()) time += ", " + human_seconds(*to_go) + " to go";
    if (session_.limits().cycles) time += fmt::format(", until {} cycles", *session_.limits().cycles);
    lines.push_back(paint(time, "1"));
    if (!session_.load_should().empty())
      lines.push_back(fmt::format("The load must {}{}{}", session_.load_should(),
                                  session_.limits_line().empty() ? "." : ": ", session_.limits_line()));
    if (!session_.alarm().empty())
      for (const std::string& line : wrapped("TOO LONG: " + session_.alarm(), size.columns - 1))
        lines.push_back(paint(line, "1;31"));
    lines.push_back("");
    const double window_s = whole_ ? last_s_ : std::min(last_s_, window());
    for (std::size_t i = 0; i < session_.channel_count(); ++i) add_channel(lines, i, window_s, size.columns);
    add_figures(lines);
    add_cycles(lines, size.rows);
    if (!message_.empty())
      for (const std::string& line : wrapped(terminal_safe(message_), size.columns - 1))
        lines.push_back(paint(line, "33"));
    // Whatever the terminal's height, the key line is its last one.
    const std::string keys = whole_ ? "Live parts. q or Ctrl-C ends it (kept and judged), w shows the last periods."
                                    : "Live parts. q or Ctrl-C ends it (kept and judged), w shows it whole.";
    const std::vector<std::string> key_lines = wrapped(keys, size.columns - 1);
    const std::size_t room = size.rows - std::min(size.rows - 1, key_lines.size() + 2);
    if (lines.size() > room) lines.resize(room);
    lines.emplace_back();
    lines.insert(lines.end(), key_lines.begin(), key_lines.end());
    std::string frame = "\x1b[H";
    for (std::size_t i = 0; i < lines.size() && i + 1 < size.rows; ++i) frame += lines[i] + "\x1b[K\r\n";
    put(frame + "\x1b[J");
    flush_output();
  }

  /// About six periods, once there is one; else two minutes.
  double window() const {
    if (cycles_.empty()) return 120.0;
    return std::clamp(6.0 * cycles_.back().cycle.period_s, 10.0, 7200.0);
  }

  void add_channel(std::vector<std::string>& lines, std::size_t i, double window_s, std::size_t columns) const {
    const auto view = session_.view(i);
    const std::string name = padded(terminal_safe(view.channel->name).substr(0, 14), 14);
    std::string value = "-";
    if (view.last && view.last->state == ReadingState::over_range) value = "over-range";
    if (view.last && view.last->state == ReadingState::finite) {
      const auto quantity = quantities_.find(view.channel->channel);
      if (quantity != quantities_.end()) value = human_value(view.last->value, quantity->second, view.last->resolution);
    }
    if (!view.trouble.empty() && value != "-") value = "was " + value;
    std::string since;
    if (view.high && view.trouble.empty()) since = "for " + human_seconds(view.in_state_s);
    lines.push_back(fmt::format("{} {} {:>12}  {:<16} {} samples", paint(name, "1"), state_words(view), value, since,
                                view.samples));
    if (!view.trouble.empty())
      for (const std::string& line : wrapped(terminal_safe(view.trouble), columns - 4))
        lines.push_back("  " + paint(line, "33"));
    const auto trace = traces_.find(view.channel->channel);
    const std::size_t wide = std::max<std::size_t>(columns, 30) - 12;
    if (trace != traces_.end() && window_s > 0.0) {
      const double begin_s = std::max(last_s_ - window_s, trace->second.first_s());
      lines.push_back("  " + paint(trace->second.row(wide, begin_s, last_s_, blocks_), "36"));
      if (i + 1 == session_.channel_count())
        lines.push_back(fmt::format("  {:<{}}now", "-" + human_seconds(last_s_ - begin_s), wide - 3));
    }
  }

  void add_figures(std::vector<std::string>& lines) const {
    const CycleSummary s = session_.so_far(session_.load_index());
    lines.push_back("");
    if (s.all.cycles == 0 || !s.all.duty.mean) {
      lines.push_back(s.samples == 0 ? "No sample yet." : "No complete cycle yet.");
      return;
    }
    const auto percent = [](const std::optional<double>& x) { return x ? std::optional{100.0 * *x} : std::nullopt; };
    lines.push_back(fmt::format("{} {}   duty {}   period {}", s.all.cycles, s.all.cycles == 1 ? "cycle" : "cycles",
                                paint(with_uncertainty(100.0 * *s.all.duty.mean, percent(s.all.duty.U), "%"), "1"),
                                with_uncertainty(*s.all.period_s.mean, s.all.period_s.U, "s")));
    if (s.all.on_s.mean && s.all.off_s.mean)
      lines.push_back(fmt::format("{:<9}  on {}   off {}   (provisional)", "",
                                  with_uncertainty(*s.all.on_s.mean, s.all.on_s.U, "s"),
                                  with_uncertainty(*s.all.off_s.mean, s.all.off_s.U, "s")));
    if (!s.trusted)
      for (const std::string& reason : s.reasons) lines.push_back(paint(reason, "33"));
  }

  void add_cycles(std::vector<std::string>& lines, std::size_t rows) const {
    if (cycles_.empty()) return;
    const std::size_t room = rows > lines.size() + 6 ? rows - lines.size() - 6 : 1;
    lines.push_back("");
    lines.push_back("    cycle          on         off      period    duty");
    const std::size_t shown = std::min({cycles_.size(), room, std::size_t{8}});
    for (std::size_t i = cycles_.size() - shown; i < cycles_.size(); ++i) {
      const Cycle& c = cycles_[i].cycle;
      lines.push_back(fmt::format("  {:>7}  {:>10}  {:>10}  {:>10}  {:>4.1f} %{}{}", c.index, seconds(c.on_s),
                                  seconds(c.off_s), seconds(c.period_s), 100.0 * c.duty,
                                  session_.channel_count() > 1 ? "  " + terminal_safe(cycles_[i].name) : "",
                                  c.has_gap ? "  gap inside" : ""));
    }
  }

  const TraceSession& session_;
  bool blocks_;
  std::optional<TraceOpened> opened_;
  std::map<int, BlockTrace> traces_;
  std::map<int, Quantity> quantities_;
  std::deque<Seen> cycles_;
  std::string message_;
  double last_s_ = 0.0;
  unsigned ticks_ = 0;
  bool over_ = false;
  bool whole_ = false;  ///< the whole trace instead of the last periods
};

}  // namespace

std::unique_ptr<TraceView> make_trace_screen_view(const TraceSession& session) {
  return std::make_unique<ScreenView>(session);
}

}  // namespace switchwright::cli
