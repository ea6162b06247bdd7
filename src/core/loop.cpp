#include "switchwright/core/loop.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>

#include "core/loop_io.hpp"

namespace switchwright {

namespace asio = boost::asio;

struct Loop::Impl {
  asio::io_context context{1};
};

struct Loop::Timer::Impl {
  explicit Impl(asio::io_context& context) : timer(context) {}
  asio::steady_timer timer;
  bool live = true;
};

Loop::Loop() : impl_(std::make_unique<Impl>()) {}
Loop::~Loop() = default;

void Loop::run() {
  impl_->context.restart();
  impl_->context.run();
}

void Loop::stop() { impl_->context.stop(); }

void Loop::post(std::function<void()> task) { asio::post(impl_->context, std::move(task)); }

Loop::Timer Loop::after(std::chrono::nanoseconds delay, std::function<void()> task) {
  auto impl = std::make_shared<Timer::Impl>(impl_->context);
  impl->timer.expires_after(delay);
  impl->timer.async_wait([impl, task = std::move(task)](const boost::system::error_code& error) {
    if (!error && impl->live) task();
  });
  return Timer{impl};
}

Loop::Timer::Timer() = default;
Loop::Timer::Timer(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}
Loop::Timer::~Timer() { cancel(); }
Loop::Timer::Timer(Timer&&) noexcept = default;
Loop::Timer& Loop::Timer::operator=(Timer&& other) noexcept {
  if (this != &other) {
    cancel();
    impl_ = std::move(other.impl_);
  }
  return *this;
}

void Loop::Timer::cancel() {
  if (!impl_) return;
  impl_->live = false;
  impl_->timer.cancel();
  impl_.reset();
}

asio::io_context& io_context_of(Loop& loop) { return loop.impl().context; }

}  // namespace switchwright
