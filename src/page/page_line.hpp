// One open page at the other end of a WebSocket: what is to be sent waits here, bounded, and so does what it may send.
#pragma once

#include <algorithm>
#include <boost/asio/buffer.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/websocket.hpp>
#include <chrono>
#include <deque>
#include <memory>
#include <string>
#include <utility>

#include "switchwright/page/server.hpp"

namespace switchwright::page {

constexpr std::size_t most_waiting = 512;  ///< texts for one page that does not take them
constexpr std::size_t most_waiting_bytes = 4 * 1024 * 1024;
constexpr double frames_per_s = 40.0;  ///< from one page, pings too; a person at the keys makes a few
constexpr double frames_at_once = 120.0;

/// How many more frames a page may send just now.
class Allowance {
 public:
  bool take() {
    const auto now = std::chrono::steady_clock::now();
    left_ = std::min(frames_at_once, left_ + frames_per_s * std::chrono::duration<double>(now - at_).count());
    at_ = now;
    if (left_ < 1.0) return false;
    left_ -= 1.0;
    return true;
  }

 private:
  double left_ = frames_at_once;
  std::chrono::steady_clock::time_point at_ = std::chrono::steady_clock::now();
};

/// Thread rule: the loop's.
template <class Stream>
class Page final : public Client, public std::enable_shared_from_this<Page<Stream>> {
 public:
  explicit Page(Stream stream) : ws(std::move(stream)) {}

  void send(std::shared_ptr<const std::string> text) override { put({-1, std::move(text)}); }

  void send_latest(int slot, std::shared_ptr<const std::string> text) override {
    for (std::size_t i = writing_ ? 1 : 0; i < waiting_.size(); ++i)
      if (waiting_[i].slot == slot) {
        bytes_ += text->size() - waiting_[i].text->size();
        waiting_[i].text = std::move(text);
        return;
      }
    put({slot, std::move(text)});
  }

  /// At once, without a word: the other side does not listen or does not behave.
  void put_out() {
    if (std::exchange(out_, true)) return;
    boost::system::error_code ignored;
    boost::beast::get_lowest_layer(ws).socket().close(ignored);
  }
  bool out() const { return out_; }

  boost::beast::websocket::stream<Stream> ws;
  Allowance allowance;

 private:
  struct Waiting {
    int slot;
    std::shared_ptr<const std::string> text;
  };

  void put(Waiting one) {
    if (out_) return;
    bytes_ += one.text->size();
    waiting_.push_back(std::move(one));
    if (waiting_.size() > most_waiting || bytes_ > most_waiting_bytes) return put_out();
    if (!writing_) write();
  }

  void write() {
    writing_ = true;
    ws.async_write(boost::asio::buffer(*waiting_.front().text),
                   [self = this->shared_from_this()](const boost::system::error_code& error, std::size_t) {
                     self->writing_ = false;
                     self->bytes_ -= self->waiting_.front().text->size();
                     self->waiting_.pop_front();
                     if (error) return self->put_out();
                     if (!self->waiting_.empty() && !self->out_) self->write();
                   });
  }

  std::deque<Waiting> waiting_;
  std::size_t bytes_ = 0;
  bool writing_ = false;
  bool out_ = false;
};

}  // namespace switchwright::page
