//! The network to take when nobody says which, and why.

use super::{Input, Network, Pad, PadError, Request, design};

/// A network chosen, with its ideal pad.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// The ideal pad.
    pub pad: Pad,
    /// Why this network, in a sentence.
    pub why: String,
}

/// Chooses for a request, whose own network is not looked at: U first, H where an exact input
/// impedance is asked for or a U cannot serve.
///
/// # Errors
/// As [`design`], of the network that would have been taken.
pub fn propose(request: &Request) -> Result<Proposal, PadError> {
    let with = |network| {
        design(&Request {
            network,
            ..*request
        })
    };
    let out_ohms = request.output.0;
    if let Input::Exact(ohms) = request.input {
        let why = format!(
            "H: {} ohm at the input and {out_ohms} ohm at the output, both exact, take three values; \
             a U has two",
            ohms.0
        );
        return with(Network::H).map(|pad| Proposal { pad, why });
    }
    match with(Network::U) {
        Ok(pad) => Ok(Proposal {
            pad,
            why: format!(
                "U: it meets the loss and {out_ohms} ohm at the output with three resistors, loads the \
                 source with {:.0} ohm (at least {} asked), and has no output arms, whose mismatch \
                 would turn hum into signal",
                pad.in_ohms(request.load).0,
                request.input.ohms().0
            ),
        }),
        Err(error) => match with(Network::H) {
            Ok(pad) => Ok(Proposal {
                pad,
                why: format!("H: it serves where a U does not ({error})"),
            }),
            Err(_) => Err(error),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pad::LossKind;
    use crate::units::{Db, Ohms};

    #[test]
    fn u_first_h_for_exact_and_else_the_reason_why_not() {
        let request = |input, loss| Request {
            network: Network::T,
            source: Ohms(50.0),
            input,
            output: Ohms(150.0),
            load: Ohms(1500.0),
            loss: Db(loss),
            kind: LossKind::Loaded,
        };
        let least = Input::AtLeast(Ohms(2000.0));
        let chosen = |input, loss| propose(&request(input, loss)).map(|p| p.pad.network());
        assert_eq!(chosen(least, 40.0), Ok(Network::U));
        assert_eq!(chosen(Input::Exact(Ohms(600.0)), 40.0), Ok(Network::H));
        assert!(chosen(least, 3.0).is_err());
    }
}
