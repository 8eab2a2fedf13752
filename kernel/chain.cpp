// Forward kinematics and the Jacobian.
#include "kernel.h"

namespace handfast {

static Pose turned_about_z(const Pose &t, double q) {
    double s, c;
    sin_cos(q, s, c);
    Pose out = t;
    for (int i = 0; i < 9; i += 3) {
        out.r.m[i] = t.r.m[i] * c + t.r.m[i + 1] * s;
        out.r.m[i + 1] = t.r.m[i + 1] * c - t.r.m[i] * s;
    }
    return out;
}

Pose tip_pose(const ArmTable &arm, const double *q, Pose *joints) {
    Pose t = turned_about_z(pose_of(arm.step[0]), q[0]);
    if (joints) joints[0] = t;
    for (int i = 1; i < arm.n; ++i) {
        t = turned_about_z(t * pose_of(arm.step[i]), q[i]);
        if (joints) joints[i] = t;
    }
    return t * pose_of(arm.tip);
}

void link_poses(const ArmTable &arm, const double *q, Pose *out) {
    out[arm.n] = tip_pose(arm, q, out);
    for (int i = 0; i < arm.n; ++i) {
        Mat turned;
        for (int k = 0; k < 9; ++k) turned.m[k] = arm.turned[i][k];
        out[i].r = out[i].r * transpose(turned);
    }
}

void tip_jacobian(const ArmTable &arm, const double *q, double *out) {
    Pose joints[MAX_JOINTS];
    const Vec tip = tip_pose(arm, q, joints).p;
    for (int i = 0; i < arm.n; ++i) {
        const Mat &r = joints[i].r;
        const Vec z = {r.m[2], r.m[5], r.m[8]}, v = cross(z, tip - joints[i].p);
        const double column[6] = {v.x, v.y, v.z, z.x, z.y, z.z};
        for (int k = 0; k < 6; ++k) out[k * arm.n + i] = column[k];
    }
}

}  // namespace handfast
