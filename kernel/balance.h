// Where springs, walls and friction balance on the held body and the loose ones.
//
// Points on the rims of one shape press on the material of another: force stiffness x depth along the nearest wall's
// normal. Friction opposes what a point has moved along the wall since the step before, at most friction x normal force
// (below `slip` it grows linearly). Each step minimises
//     springs + sum stiffness depth^2 / 2 + sum friction N f(movement along the wall),
// by Newton steps with a line search, N being taken from the step's latest iterate. This is the incremental form of
// Coulomb friction with lagged normal forces (Li et al., Incremental Potential Contact, 2020; from memory).
#pragma once
#include "touches.h"

namespace handfast {

class Balance {
  public:
    Balance(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points, const std::vector<Body> &bodies,
            const Going &going)
        : pressing_(shapes, rims, points), going_(going), bodies_(bodies), n_(6 * int(bodies.size())) {
        for (const Body &b : bodies) now_.push_back(b.now), before_.push_back(b.now);
        out.deepest.assign(rims.size(), 0.0);
    }

    void command(const Pose &to);
    // The command has moved: find the balance there. False if it was not found.
    bool settle();
    // Back to the last balance, with the command where it was then.
    void take_back(const Pose &to);
    // What was found is where the next step begins.
    void keep();
    // Notes what the hand feels, the command having gone so far.
    void feel(double gone);

    double force() const { return dot(stretched(0), going_.way); }
    // How far ahead of its command the body is along the way: negative where something holds it back.
    double behind() const { return dot(now_[0].p - bodies_[0].at.p, going_.way); }
    const std::vector<Pose> &poses() const { return now_; }
    Gone out;

  private:
    using Matrix = double[6 * MAX_BODIES][6 * MAX_BODIES];

    void descend();
    void newton(double *step, bool exact) const;
    void add(const Touch &t, double most, bool exact, Matrix h, double *g) const;
    double limited(const double *step) const;
    double residual(const std::vector<Pose> &poses, const std::vector<Touch> &touches) const;
    double energy(const std::vector<Pose> &poses, const std::vector<Touch> &touches, bool take);
    double energy_there(const std::vector<Pose> &poses);
    Vec carried(Vec at, int body, const std::vector<Pose> &poses) const;
    std::vector<Pose> moved(const double *step, double share) const;
    void spring_pull(const std::vector<Pose> &poses, double *g) const;
    Vec springs(int b, Vec v, bool turn) const;
    Vec stretched(int b) const { return springs(b, bodies_[size_t(b)].at.p - now_[size_t(b)].p, false); }
    void touch(const std::vector<Pose> &poses, std::vector<Touch> &found) { pressing_.find(poses, before_, found); }
    double rub(double s) const { return s < going_.slip ? 0.5 * s * s / going_.slip : s - 0.5 * going_.slip; }

    Touches pressing_;
    const Going &going_;
    std::vector<Body> bodies_;
    const int n_;
    std::vector<Pose> now_, before_;
    std::vector<Touch> touches_, tried_, rubbing_;
    std::vector<double> force_;
};

}  // namespace handfast
