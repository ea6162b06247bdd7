#include "switchwright/core/interrupt.hpp"

#include <boost/asio/signal_set.hpp>
#include <csignal>
#include <cstdlib>

#include "core/loop_io.hpp"

namespace switchwright {

struct Interrupt::Impl : std::enable_shared_from_this<Interrupt::Impl> {
  Impl(Loop& loop, std::function<void()> call)
      : signals(io_context_of(loop), SIGINT, SIGTERM, SIGHUP), first(std::move(call)) {}

  void wait() {
    signals.async_wait([self = shared_from_this()](const boost::system::error_code& error, int) {
      if (error) return;
      // From here on a second Ctrl-C works as without us, in case the orderly way hangs.
      self->signals.clear();
      self->first();
    });
  }

  boost::asio::signal_set signals;
  std::function<void()> first;
};

Interrupt::Interrupt(Loop& loop, std::function<void()> first) : impl_(std::make_shared<Impl>(loop, std::move(first))) {
  impl_->wait();
}

Interrupt::~Interrupt() { impl_->signals.cancel(); }

}  // namespace switchwright
