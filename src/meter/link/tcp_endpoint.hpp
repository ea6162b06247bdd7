// A TCP connection as an endpoint; the serial-server link builds on it.
#pragma once

#include "meter/link/endpoint.hpp"

namespace switchwright {

class TcpEndpoint : public Endpoint {
 public:
  /// @throws Error(usage) when `port` is not SCHEME:HOST:PORT.
  TcpEndpoint(boost::asio::io_context& context, std::string port);
  ~TcpEndpoint() override;

  Descriptor open() override;
  boost::asio::awaitable<Descriptor> reopen() override;
  void cancel() override;
  const std::string& name() const override { return name_; }
  void hang_up(Descriptor fd) override;
  std::string loss_advice() const override;
  std::string silence_advice() const override;

 private:
  struct Attempt;
  boost::asio::awaitable<Descriptor> connect(boost::asio::io_context& context);

  boost::asio::io_context& context_;
  std::string name_;
  HostAndPort at_;
  std::weak_ptr<Attempt> attempt_;
};

}  // namespace switchwright
