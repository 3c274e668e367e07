//! What a catch test says: each row against target, mean and what the model expects, what explains it, and what to look at
//! next. Start reading at [`readings`].

pub mod readings;
